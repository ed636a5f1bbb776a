# SPDX-License-Identifier: GPL-3.0-or-later
# The workbench under stress: hundreds of requests side by side, many of them hung up on, changes between, another program that writes to
# the same file, and the file replaced under it: serve_stress.py SPINNEY [ROUNDS]. Prints ok and FAIL lines. Nothing is timed; a request
# that is not answered within a minute counts as a hang.
import http.client
import json
import os
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading

spinney, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 60
work = tempfile.mkdtemp()
path = os.path.join(work, "p.gpkg")
bad = 0


def say(good, what, detail=""):
    global bad
    bad |= not good
    print(("ok " if good else "FAIL ") + what + ("" if good else f": {detail}"), flush=True)


def cli(*words):
    return subprocess.run([spinney, *words], capture_output=True, text=True)


cli("new", path, "--name", "Stress", "--crs", "EPSG:25832")
cli("add", path, "site", "code=S1;name=One;stage=idea")
errors = open(os.path.join(work, "errors"), "w")
server = subprocess.Popen([spinney, "serve", path], stdout=subprocess.PIPE, stderr=errors, text=True)
address = re.search(r"http://([^/]+)(/open\S+)", server.stdout.readline())
host, opening = address.group(1), address.group(2)
first = http.client.HTTPConnection(host, timeout=60)
first.request("GET", opening)
cookie = first.getresponse().getheader("Set-Cookie").split(";")[0]
heads = {"Cookie": cookie, "Origin": "http://" + host, "X-Spinney": "1", "Content-Type": "application/json", "X-Author": "V001"}


def ask(job, options, timeout=60):
    c = http.client.HTTPConnection(host, timeout=timeout)
    c.request("POST", "/api/job/" + job, json.dumps(options), heads)
    answer = c.getresponse()
    text = answer.read()
    c.close()
    return answer.status, json.loads(text)


def is_turned_away(status, answer):
    """Too many wait, or another program was writing for longer than one waits: refused in a sentence, and nothing stored."""
    return status == 503 or (status == 500 and "just now" in answer["error"]["sentence"])


def hang_up(job, options):
    """Ask, and go away before the answer, at any moment."""
    body = json.dumps(options).encode()
    head = f"POST /api/job/{job} HTTP/1.1\r\nHost: {host}\r\n" + "".join(f"{k}: {v}\r\n" for k, v in heads.items()) + f"Content-Length: {len(body)}\r\n\r\n"
    s = socket.create_connection(tuple(host.split(":")))
    if random.random() < 0.3:
        s.sendall(head.encode()[: random.randrange(1, len(head))])
    else:
        s.sendall(head.encode() + body)
        if random.random() < 0.5:
            threading.Event().wait(random.random() * 0.05)
    if random.random() < 0.5:
        s.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
    s.close()


added, odd, lock = [0], [], threading.Lock()


def caller(seed):
    r = random.Random(seed)
    for _ in range(rounds):
        try:
            pick = r.random()
            if pick < 0.4:
                hang_up(*r.choice([("rows", {"noun": "site"}), ("look", {}), ("log", {})]))
            elif pick < 0.55:
                status, answer = ask("add", {"noun": "plot", "set": f"site_id=1;code=P{seed}-{r.random()};regime=dense_prepared"})
                with lock:
                    added[0] += status == 200
                    if status != 200 and not is_turned_away(status, answer):
                        odd.append((status, answer))
            else:
                status, answer = ask(*r.choice([("rows", {"noun": "plot"}), ("look", {}), ("log", {}), ("survival", {})]))
                with lock:
                    if status != 200 and not is_turned_away(status, answer):
                        odd.append((status, answer))
        except Exception as fault:  # a hang shows as a timeout
            with lock:
                odd.append(repr(fault))


def another_program():
    for i in range(max(3, rounds // 10)):
        done = cli("add", path, "plot", f"site_id=1;code=CLI{i};regime=conventional")
        with lock:
            added[0] += done.returncode == 0
            if done.returncode != 0 and "just now" not in done.stderr:
                odd.append(done.stderr)


threads = [threading.Thread(target=caller, args=(i,)) for i in range(16)] + [threading.Thread(target=another_program)]
for t in threads:
    t.start()
for t in threads:
    t.join()
say(not odd, "every request that waits is answered, and rightly", f"{len(odd)}: {odd[:3]}")
say(added[0] > rounds, "changes went in between", added[0])
status, answer = ask("rows", {"noun": "plot", "most": 1000000})
count = answer["data"]["count"] if status == 200 else answer
say(count == added[0], "every change that was said to be stored is there, and no other", f"{count} rows, {added[0]} said")
# what another program writes is seen at once
cli("add", path, "site", "code=S2;name=Two;stage=idea")
status, answer = ask("rows", {"noun": "site"})
say(status == 200 and answer["data"]["count"] == 2, "what another program wrote is seen at the next look", answer)
# a damaged file is noticed although it was sound when opened: references that lead nowhere forbid writing, not looking
import sqlite3  # noqa: E402

other = sqlite3.connect(path)
other.create_function("ST_IsEmpty", 1, lambda b: 1)
for f in ("ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
    other.create_function(f, 1, lambda b: None)
other.execute("UPDATE plot SET site_id = 999 WHERE code = 'CLI0'")
other.commit()
other.close()
status, answer = ask("add", {"noun": "site", "set": "code=S3;name=Three;stage=idea"})
say(status == 422 and "references" in answer["error"]["sentence"], "what another program broke is noticed before the next change", answer)
# another file under the same name
fresh = os.path.join(work, "fresh.gpkg")
cli("new", fresh, "--name", "Fresh", "--crs", "EPSG:25832")
for suffix in ("-wal", "-shm"):
    if os.path.exists(path + suffix):
        os.unlink(path + suffix)
os.replace(fresh, path)
status, answer = ask("rows", {"noun": "site"})
say(status == 200 and answer["data"]["count"] == 0, "a file put in its place is opened anew", answer)
status, answer = ask("add", {"noun": "site", "set": "code=N1;name=New;stage=idea"})
say(status == 200, "and written to", answer)
server.terminate()
try:
    code = server.wait(30)
except subprocess.TimeoutExpired:
    code = "did not end"
    server.kill()
say(code == 0, "the server ends when asked", code)
errors.close()
said = open(os.path.join(work, "errors")).read()
say("ThreadSanitizer" not in said and "ERROR" not in said, "no sanitizer complains", said[:3000])
say(sorted(os.listdir(work)) == ["errors", "p.gpkg"], "the programme is one file again", sorted(os.listdir(work)))
done = cli("verify", path)
say(done.returncode == 0, "the file is sound afterwards", done.stdout + done.stderr)
shutil.rmtree(work)
sys.exit(bad)
