#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Reads our documents with other people's programs: poppler (pdftotext, pdftoppm, pdfinfo), zbar, python's zipfile.
# Prints ok, FAIL or skip lines; exits 1 on a failure, 77 where nothing could be checked.
show=$1
here=$(mktemp -d) || exit 1
trap 'rm -rf "$here"' EXIT
command -v pdftotext >/dev/null || { echo "skip: no poppler-utils"; exit 77; }
"$show" "$here" || { echo "FAIL paper_show"; exit 1; }
bad=0
say() { if [ "$1" = 0 ]; then echo "ok   $2"; else echo "FAIL $2"; bad=1; fi; }

# Cards: every code of the 15 by 15 plot exactly once as a word, over all pages; six cards to a sheet.
pdftotext -f 2 "$here/cards.pdf" "$here/cards.txt"
python3 - "$here/cards.txt" <<'P'; say $? "every code of 225 squares stands once over the cards, counts add up"
import re, sys
words = open(sys.argv[1], encoding="utf-8").read()
codes = re.findall(r"^([A-O][01]\d)$", words, re.M)
want = [f"{chr(65 + r)}{c:02d}" for r in range(15) for c in range(1, 16)]
counts = [int(n) for n in re.findall(r"^(\d+) plants", words, re.M)]
short = re.findall(r"AB-D1-[A-O][01]\d", words)
# a sheet's columns may be read one after the other, so order is looked at sheet by sheet
sheets = [sorted(re.findall(r"^([A-O][01]\d)$", page, re.M)) for page in words.split("\f")]
ok = [c for s in sheets for c in s] == want and len(counts) == 225 and len(set(short)) == 225
print("codes", len(codes), "cards with a count", len(counts), "plants", sum(counts))
sys.exit(0 if ok else 1)
P
total=$(pdftotext -l 1 "$here/cards.pdf" - | grep -oE '[0-9]+ plants in all' | grep -oE '^[0-9]+')
sum=$(grep -oE '^[0-9]+ plants' "$here/cards.txt" | awk '{s += $1} END {print s}')
[ -n "$total" ] && [ "$total" = "$sum" ]; say $? "the key sheet's sum ($total) is the sum over the cards ($sum)"
pages=$(pdfinfo "$here/cards.pdf" | awk '/^Pages/ {print $2}')
[ "$pages" = 39 ]; say $? "225 cards, six to a sheet, and a key: 39 pages ($pages)"
last=$(pdftotext -f "$pages" "$here/cards.pdf" - | grep -c "page $pages of $pages")
[ "$last" = 1 ]; say $? "the last page says page $pages of $pages"

# The scale bar in the printed PDF, measured by another renderer: 40 mm at 10 dots to the millimetre.
pdftoppm -r 254 -gray -f 1 -l 1 -singlefile "$here/plan.pdf" "$here/plan"
python3 - "$here/plan.pgm" <<'P'; say $? "the scale bar of the planting plan measures 40 mm on the page"
import sys
data = open(sys.argv[1], "rb").read()
head = data.split(b"\n", 3)
width, height = map(int, head[1].split())
dots = head[3]
best = 0
for y in range(height // 4, height):
    row = dots[y * width:(y + 1) * width]
    left = next((x for x in range(150, 260) if row[x] < 128), None)
    if left is None:
        continue
    x = left
    while x < width and row[x] < 128:
        x += 1
    if 300 < x - left < 600:
        best = x - left
print("dark run of", best, "tenths of a millimetre")
sys.exit(0 if abs(best - 400) <= 3 else 1)
P
pdfinfo "$here/plan.pdf" | grep -q "Tagged: *yes"; say $? "the plan is a tagged PDF"
pdfinfo -struct "$here/plan.pdf" | grep -q "Table"; say $? "its tables are tagged as tables"
pdffonts "$here/plan.pdf" | awk 'NR > 2 && $(NF-4) != "yes" {bad = 1} END {exit bad}'; say $? "all its fonts are embedded"
pdftotext -layout "$here/note.pdf" - | grep -c "^ *Species  *Plants" | grep -qx 2; say $? "the head of a table that breaks over pages is repeated"
rows=$(pdftotext -layout "$here/note.pdf" - | grep -cE "^ *(Quercus|Betula|Acer|Sorbus|Corylus|Crataegus|Viburnum|Lonicera) [a-z]+ +[0-9]+ +(–|[0-9]+\.[0-9])")
[ "$rows" = 70 ]; say $? "all 70 rows of it are there ($rows)"

# The workbook: nothing a person typed became a formula.
python3 - "$here/order.xlsx" <<'P'; say $? "only our sums are formulas in the order; a typed one stays words"
import re, sys, zipfile
book = zipfile.ZipFile(sys.argv[1])
sheet = book.read("xl/worksheets/sheet1.xml").decode()
words = book.read("xl/sharedStrings.xml").decode()
formulas = re.findall(r"<f>([^<]*)</f>", sheet)
ok = formulas and all(re.fullmatch(r"J\d+\*K\d+|SUM\([JL]2:[JL]\d+\)", f) for f in formulas)
ok = ok and "=HYPERLINK(" in words and "@SUM(A1)" in words
dates = {i.date_time for i in book.infolist()}
sys.exit(0 if ok and len(dates) == 1 else 1)
P

if command -v zbarimg >/dev/null; then
    pdftoppm -r 300 -gray -png -f 2 -l 2 "$here/cards.pdf" "$here/card"
    found=$(zbarimg -q --raw "$here"/card-*.png 2>/dev/null | sort | tr '\n' ' ')
    [ "$found" = "AB-D1-A01 AB-D1-A02 AB-D1-A03 AB-D1-A04 AB-D1-A05 AB-D1-A06 " ]; say $? "the marks of a grey sheet scan to their short codes ($found)"
else
    echo "skip: no zbarimg (zbar-tools)"
fi
exit $bad
