#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Every number of the report leads to its rows, and the rows give the number: rows_behind.py SPINNEY FOLDER-OF-THE-DEMONSTRATION.

The report is read as a reader has it (its HTML), the rows as another program gets them (CSV of `spinney rows`); counts,
heights, richness and costs are computed again here, by this file's own reading of the rules. Prints ok and FAIL lines."""
import csv
import html.parser
import io
import json
import math
import pathlib
import re
import subprocess
import sys
import tempfile
from collections import defaultdict

spinney, folder = sys.argv[1], pathlib.Path(sys.argv[2])
programme = folder / "kelverhaven.gpkg"
work = pathlib.Path(tempfile.mkdtemp())
bad = 0


def check(name, good, why=""):
    global bad
    print(f"ok {name}" if good else f"FAIL {name}: {str(why)[:400]}")
    bad += not good


class Report(html.parser.HTMLParser):
    """Tables as (heading, columns, rows of (words, set)), and sets by number as {count, of, command, rows}."""

    def __init__(self):
        super().__init__()
        self.tables, self.sets = [], {}
        self.heading, self.cell, self.row, self.table, self.set = "", None, None, None, None
        self.into, self.text = None, ""
        self.links = []

    def cell_end(self):
        if self.cell is not None and self.row is not None:
            self.row.append((" ".join(self.cell["words"].split()), self.cell["set"]))
        self.cell = None

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "div" and attrs.get("class") == "set":
            self.set = int(attrs["id"][1:])
            self.sets[self.set] = {"of": [], "command": None, "rows": 0, "text": ""}
        elif re.fullmatch("h[1-4]", tag):
            self.into, self.heading = "heading", ""
        elif tag == "code" and self.set and self.sets[self.set]["command"] is None:
            self.into, self.sets[self.set]["command"] = "command", ""
        elif tag == "table":
            self.table = {"heading": self.heading, "columns": [], "rows": []}
        elif tag == "tr":
            self.cell_end()
            self.row = []
            if self.table is not None:
                self.table["rows"].append(self.row)
        elif tag in ("td", "th"):
            self.cell_end()
            self.cell = {"words": "", "set": None}
        elif tag == "br" and self.cell is not None:
            self.cell["words"] += " "
        elif tag == "a":
            to = attrs.get("href", "")
            self.links.append((attrs.get("id"), to))
            if attrs.get("class") == "n" and self.cell is not None:
                self.cell["set"] = int(to[2:])
                self.mark = attrs.get("data-r") if "sup" in self.open else None
            elif self.set and re.fullmatch(r"#r\d+", to):
                self.sets[self.set]["of"].append(int(to[2:]))
        if tag == "sup":
            self.open.add("sup")

    open = set()

    def handle_endtag(self, tag):
        if re.fullmatch("h[1-4]|code", tag):
            self.into = None
        elif tag == "sup":
            self.open.discard("sup")
        elif tag in ("td", "th", "tr", "tbody", "table"):
            self.cell_end()
            if tag == "table":
                rows = [row for row in self.table["rows"] if row]
                if self.set:
                    self.sets[self.set]["rows"] += len(rows) - 1
                elif rows:
                    self.table["columns"] = [words for words, _ in rows[0]]
                    self.table["rows"] = rows[1:]
                    self.tables.append(self.table)
                self.table = None

    def handle_data(self, words):
        if self.into == "heading":
            self.heading += words
        elif self.into == "command":
            self.sets[self.set]["command"] += words
        elif self.cell is not None and "sup" not in self.open:
            self.cell["words"] += words
        elif self.set and self.table is None:
            self.sets[self.set]["text"] += words


NAMES = re.compile(r"^(plot|site|pit|group|regime|when|carbon|care|kind|file|stage|sha-256|the difference may be given to|what holds roots back)\b", re.I)


def without_rows(report):
    """Cells with a figure in them that lead nowhere."""
    out = []
    for table in report.tables:
        for row in table["rows"]:
            for column, (words, number) in zip(table["columns"], row):
                if re.search(r"\d", words) and number is None and not NAMES.match(column):
                    out.append((table["heading"], column, words))
    return out


def read(text):
    report = Report()
    report.feed(text)
    return report


kept = {}


def rows_of(noun, where=""):
    """The rows of a selection as the program writes them for others."""
    if (noun, where) not in kept:
        path = work / "rows.csv"
        subprocess.run([spinney, "rows", programme, noun, *([where] if where else []), "--csv", path, "--most", "0", "--quiet"], check=True)
        kept[noun, where] = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    return kept[noun, where]


def set_rows(report, number):
    """All rows behind a set, as [(noun, row)]."""
    one = report.sets[number]
    if one["of"]:
        return [each for part in one["of"] for each in set_rows(report, part)]
    found = re.fullmatch(r"spinney rows FILE (\w+)(?: '(.*)')?", one["command"], re.S)
    return [(found[1], row) for row in rows_of(found[1], (found[2] or "").replace("'\\''", "'"))]


def number(words):
    return float(re.match(r"-?[\d.]+", words.replace("−", "-").replace("\u202f", ""))[0])


ALIVE, DEAD = {"alive", "alive_dieback", "resprouting"}, {"dead_standing", "missing", "replaced"}

page = work / "report.html"
subprocess.run([spinney, "report", programme, "--html", page, "--pdf", work / "report.pdf", "--quiet"], check=True)
text = page.read_text(encoding="utf-8")
report = read(text)

# ---- every number has a reference, every reference resolves ----
missing = without_rows(report)
cells = sum(1 for t in report.tables for r in t["rows"] for _, s in r if s)
check("every number in the tables of the report leads to its rows", not missing and cells > 800, missing[:5] or cells)
first = re.search(r'<td[^>]*><a class="n"[^>]*>([^<]*\d[^<]*)</a>', text)
planted = text[: first.start()] + f"<td>{first[1]}" + text[first.end():]
check("a number whose reference is taken away is noticed", len(without_rows(read(planted))) == 1, without_rows(read(planted)))
ids = set(re.findall(r'\bid="([^"]+)"', text))
check("every link of the report leads somewhere", all(to[1:] in ids for _, to in report.links if to.startswith("#")))
lost = [n for n, s in report.sets.items() if not (re.search(rf'href="#u{n}-1"', text) or any(n in s["of"] for s in report.sets.values()))]
check("every set is led to and leads back", not lost, [(n, report.sets[n]) for n in lost[:3]])
whole = [n for n, s in report.sets.items() if not s["of"] and s["rows"] != int(re.search(r"(\d+) rows?:", s["text"])[1])]
check("every set holds all its rows", not whole, whole[:5])
check("no set finds other rows than its number was computed from", "Do not rely on it" not in text)
ordinary = [n for n, s in report.sets.items() if not s["of"]]
some = ordinary[:: max(1, len(ordinary) // 60)]
check("the command of a set lists as many rows as the report shows", all(len(set_rows(report, n)) == report.sets[n]["rows"] for n in some), some)
places = re.findall(r"\d+(?= sets of rows)", text)
print(f"# {cells} cells, {len(report.sets)} sets, {len(text) / 1e6:.1f} MB")

# ---- the whole programme, read apart from its censuses ----
plots = {row["id"]: row for row in rows_of("plot")}
sites = {row["id"]: row for row in rows_of("site")}
visits = {row["id"]: row for row in rows_of("visit")}
plants = {row["id"]: row for row in rows_of("plant")}
name_of = {plot: f"{sites[row['site_id']]['code']}/{row['code']}" for plot, row in plots.items()}
plot_of = {name: plot for plot, name in name_of.items()}
of_plot = defaultdict(list)
for record in rows_of("plant_record"):
    visit = visits[record["visit_id"]]
    if record["repeat"] != "yes" and visit["kind"] not in ("health_walk", "incident_visit"):
        of_plot[plants[record["plant_id"]]["plot_id"]].append(record)


def census_days(records):
    """Censuses as [first day, last day, is the as-planted one]: records at most 45 days from the first."""
    out = []
    for record in sorted(records, key=lambda r: (r["observed_on"], int(r["id"]))):
        day, visit = record["observed_on"], visits[record["visit_id"]]
        as_planted = visit["kind"] == "as_planted_census" or visit["time_point"] == "as_planted"
        import datetime
        if not out or (datetime.date.fromisoformat(day) - datetime.date.fromisoformat(out[-1][0])).days > 45 or out[-1][2] != as_planted:
            out.append([day, day, as_planted])
        out[-1][1] = day
    return out


def counts_again(plot):
    """Planted, alive, dead, not found, no record, removed at the last census, from the records alone."""
    records, days = of_plot[plot], census_days(of_plot[plot])
    last = days[-1]
    by_plant = defaultdict(list)
    for record in records:
        by_plant[record["plant_id"]].append(record)
    out = defaultdict(int)
    for plant in (p for p in plants.values() if p["plot_id"] == plot and p["origin"] == "first_planting"):
        own = sorted(by_plant[plant["id"]], key=lambda r: (r["observed_on"], int(r["id"])))
        if days[0][2]:
            at_first = [r for r in own if days[0][0] <= r["observed_on"] <= days[0][1]]
            if not any(r["status"] in ALIVE | DEAD | {"removed"} for r in at_first):
                continue
        out["planted"] += 1
        here = [r["status"] for r in own if last[0] <= r["observed_on"] <= last[1]]
        before = [r["status"] for r in own if r["observed_on"] < last[0]]
        decided = [s for s in before if s in ALIVE | DEAD | {"removed"}]
        if any(s in ALIVE for s in here):
            state = "alive"
        elif any(s in DEAD for s in here):
            state = "removed" if decided and decided[-1] == "removed" and not here else "dead"
        elif any(s == "removed" for s in here):
            state = "removed"
        elif decided and decided[-1] == "removed":
            state = "removed"
        elif decided and decided[-1] in DEAD:
            state = "dead"
        else:
            state = "not found" if here else "no record"
        out[state] += 1
    return out


def tables(words):
    return [t for t in report.tables if re.match(words, t["heading"])]


def cell(table, row, column):
    return row[table["columns"].index(column)]


wrong, seen = [], 0
for table in tables("Counts at "):
    for row in table["rows"]:
        again = counts_again(plot_of[row[0][0]])
        for column in ("planted", "alive", "dead", "not found", "no record", "removed"):
            words, behind = cell(table, row, column)
            seen += 1
            if int(number(words)) != again[column]:
                wrong.append((row[0][0], column, words, again[column]))
            rows = set_rows(report, behind) if number(words) > 0 else []
            kept_by = {"alive": ALIVE, "dead": DEAD, "not found": {"not_found"}, "removed": {"removed"}}.get(column)
            if number(words) > 0:
                own = {r.get("plant_id") or r["id"] for _, r in rows}
                if len(own) != number(words) or (kept_by and not all(r["status"] in kept_by for _, r in rows)):
                    wrong.append((row[0][0], column, words, "rows", len(own)))
check(f"survival: {seen} counts computed again from all records, and from the rows behind each", not wrong and seen == 96, wrong[:4] or seen)

wrong, seen = [], 0
for table in tables("Survival at "):
    for row in table["rows"]:
        words, behind = cell(table, row, "cohort survival")
        alive, known = map(int, re.search(r"(\d+) of (\d+)", words.replace("\u202f", "")).groups())
        states = [r["status"] for _, r in set_rows(report, behind)]
        seen += 1
        if len(states) != known or sum(s in ALIVE for s in states) != alive or round(100 * alive / known) != number(words):
            wrong.append((row[0][0], words, len(states)))
        z, p = 1.959964, alive / known  # Wilson 1927
        middle, half = (p + z * z / (2 * known)) / (1 + z * z / known), z * math.sqrt(p * (1 - p) / known + z * z / (4 * known * known)) / (1 + z * z / known)
        low, high = map(int, re.search(r"\((\d+)–(\d+)\)", words).groups())
        if abs(100 * (middle - half) - low) > 0.51 or abs(100 * (middle + half) - high) > 0.51:
            wrong.append((row[0][0], words, middle - half, middle + half))
check("survival: shares and their intervals from the rows behind them", not wrong and seen == 16, wrong[:4] or seen)

# ---- heights ----
wrong, seen = [], 0


def mean(values):
    return math.fsum(values) / len(values)


def close(plot, column, words, again, step=0.5001):
    global seen
    seen += 1
    if abs(number(words) - again) > step:
        wrong.append((plot, column, words, again))


for table in tables("Growth at "):
    for row in table["rows"]:
        words, behind = cell(table, row, "same plants, gain cm")
        pairs = defaultdict(list)
        for _, r in set_rows(report, behind):
            pairs[r["plant_id"]].append((r["observed_on"], float(r["height_cm"])))
        if any(len(p) != 2 for p in pairs.values()) or len(pairs) != number(cell(table, row, "measured twice")[0]):
            wrong.append((row[0][0], "pairs", len(pairs)))
        close(row[0][0], "gain", words, mean([max(p)[1] - min(p)[1] for p in pairs.values()]))
for table in tables("Heights at "):
    for row in table["rows"]:
        words, behind = cell(table, row, "per plant planted, now cm")
        close(row[0][0], "per planted", words, mean([0 if r["status"] in DEAD else float(r["height_cm"]) for _, r in set_rows(report, behind)]))
        for column in ("mean of survivors then cm", "mean of survivors now cm"):
            words, behind = cell(table, row, column)
            close(row[0][0], column, words, mean([float(r["height_cm"]) for _, r in set_rows(report, behind)]))
check(f"heights: {seen} means from the rows behind them", not wrong and seen >= 60, wrong[:4] or seen)

# ---- richness at equal looks: expected kinds in t of T looks, from how many looks saw each (Chao et al. 2014, sample-based) ----
wrong, seen = [], 0
for table in tables("Wildlife"):
    for row in table["rows"]:
        looks = int(number(cell(table, row, "looks")[0]))
        least = int(number(cell(table, row, "looks compared")[0]))
        words, behind = cell(table, row, "taxa at equal looks")
        rows = set_rows(report, behind)
        if sum(noun == "wildlife_visit" for noun, _ in rows) != looks:
            wrong.append((row[0][0], "looks", looks))
        if len(set_rows(report, cell(table, row, "looks compared")[1])) < least:
            wrong.append((row[0][0], "compared", least))
        seen_on = defaultdict(set)
        for noun, r in rows:
            if noun == "wildlife_record" and r["count"] != "0":
                seen_on[r["taxon"].lower()].add(r["wildlife_visit_id"])
        again = sum(1 - math.comb(looks - len(on), least) / math.comb(looks, least) for on in seen_on.values())
        close(row[0][0] + " " + row[1][0], "richness", words, again, 0.0501)
check(f"richness: {seen} counts of kinds at equal looks from the rows behind them", not wrong and seen >= 8, wrong[:4] or seen)

# ---- costs: shared lines by area ----
wrong, seen = [], 0
area = {}


def outline_m2(geometry):
    """Area of a polygon's rings as they stand in the programme's metres: the shoelace sum."""
    polygons = geometry["coordinates"] if geometry["type"] == "MultiPolygon" else [geometry["coordinates"]]
    ring = lambda r: abs(math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in zip(r, r[1:] + r[:1]))) / 2
    return math.fsum(ring(p[0]) - math.fsum(ring(hole) for hole in p[1:]) for p in polygons)


shapes = json.loads(subprocess.run([spinney, "rows", programme, "plot", "--json"], capture_output=True, text=True, check=True).stdout)["data"]["rows"]
for plot in shapes:
    area[name_of[str(plot["id"])]] = plot["net_area_m2"] if plot["net_area_m2"] is not None else outline_m2(plot["geometry"])


def share(plot, item):
    if item["plot_id"]:
        return 1.0
    takes = [p for p in plots if (plots[p]["site_id"] == item["site_id"] or not item["site_id"]) and name_of[p] in area]
    return area[plot] / sum(area[name_of[p]] for p in takes)


for table in tables("What it cost$"):
    for row in table["rows"]:
        plot = row[0][0]
        for column, step in (("spent EUR", 0.51), ("of that monitoring EUR", 0.51)):
            words, behind = cell(table, row, column)
            close(plot, column, words, sum(float(r["amount"]) * share(plot, r) for noun, r in set_rows(report, behind) if noun == "cost_item"), step)
        words, behind = cell(table, row, "per m² EUR")
        if words == "–":
            continue
        rows = set_rows(report, behind)
        recipe = sum(float(r["amount"]) * share(plot, r) for noun, r in rows if noun == "cost_item")
        close(plot, "per m²", words, recipe / area[plot], 0.0051)
        words, behind = cell(table, row, "per plant planted EUR")
        if words == "–":  # nothing is planted there
            continue
        rows = set_rows(report, behind)
        close(plot, "per planted", words, recipe / sum(noun in ("plant_record", "plant") for noun, _ in rows), 0.0051)
        words, behind = cell(table, row, "per plant alive")
        alive = sum(noun == "plant_record" and r["status"] in ALIVE for noun, r in set_rows(report, behind))
        close(plot, "per alive", words, recipe / alive, 0.0051)
check(f"costs: {seen} figures from the lines of the ledger behind them", not wrong and seen >= 80, wrong[:4] or seen)

# ---- care ----
wrong, seen = [], 0
for table in tables("Care given"):
    for row in table["rows"]:
        words, behind = cell(table, row, "waterings")
        close(row[0][0], "waterings", words, len(set_rows(report, behind)), 0)
        words, behind = cell(table, row, "water, in all L/m²")
        close(row[0][0], "litres", words, sum(float(r["litres_m2"]) for _, r in set_rows(report, behind)))
check(f"care: {seen} figures from the rows behind them", not wrong and seen >= 30, wrong[:4] or seen)

# ---- on paper ----
words = subprocess.run(["pdftotext", "-layout", work / "report.pdf", "-"], capture_output=True, text=True).stdout if bad is not None else ""
if words:
    marks, listed = set(re.findall(r"\br(\d+)\b", words.split("Rows behind the numbers")[0])), set(re.findall(r"^r(\d+)\s", words, re.M))
    check("on paper, every mark has its entry with a command", marks and marks <= listed and "spinney rows FILE plant_record '" in words, sorted(marks - listed)[:5])
else:
    print("skip the marks on paper: pdftotext is not here")
sys.exit(bad > 0)
