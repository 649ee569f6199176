#!/usr/bin/env python3
"""Takes 1 million readings with `holdfast take` and inserts the same rows with plain
`sqlite3 .import`, in turn, in one run, and prints times and ratio.

    python3 bench/take_vs_import.py [--rows N] [--runs N]

What is compared: holdfast parses, checks, converts, looks for doubles and conflicts, files by box
and time, hashes, keeps the original and syncs to disk; .import copies text into an untyped table
in write-ahead mode with synchronous=FULL, as somebody would who only wants the rows in a database.
"""
import argparse
import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
HOLDFAST = os.environ.get("HOLDFAST_BIN", os.path.join(ROOT, "target/release/holdfast"))


def check_digit(body):
    """ISO 6346."""
    total = 0
    for i, c in enumerate(body):
        v = int(c) if c.isdigit() else ord(c) - 55 + (c > "A") + (c > "K") + (c > "U")
        total += v << i
    return total % 11 % 10


def write_rows(path, rows):
    """An hourly logger file of 500 boxes, by time and then box, as a recorder writes it."""
    dice = random.Random(1)
    units = []
    for k in range(500):
        body = f"QQQU{300000 + k:06d}"
        units.append(body + str(check_digit(body)))
    start = 1772323200  # 2026-03-01T00:00:00Z
    with open(path, "w") as f:
        f.write("time_utc,unit,set_point_c,supply_c,return_c,ambient_c,power_kw,on_power,mode,source\n")
        for n in range(rows):
            t = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(start + n // 500 * 3600))
            s = dice.randrange(-30, 30) / 10
            f.write(f"{t},{units[n % 500]},-18.0,{-18.6 + s / 3:.1f},{-17.4 + s / 2:.1f},"
                    f"{28 + s:.1f},{4 + s / 3:.1f},1,frozen,logger\n")


def timed(command, **kw):
    before = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, **kw)
    took = time.perf_counter() - before
    if done.returncode:
        sys.exit(f"{command[0]} failed: {done.stderr}")
    return took, done.stdout


def main():
    p = argparse.ArgumentParser()
    p.add_argument("--rows", type=int, default=1_000_000)
    p.add_argument("--runs", type=int, default=3)
    a = p.parse_args()
    if not shutil.which("sqlite3"):
        sys.exit("sqlite3 is not installed: apt-get install sqlite3")
    folder = tempfile.mkdtemp(prefix="holdfast-bench-")
    csv = os.path.join(folder, "rows.csv")
    write_rows(csv, a.rows)
    size = os.path.getsize(csv) / 1e6
    ours, theirs = [], []
    for n in range(a.runs):
        voyage, db = os.path.join(folder, f"v{n}"), os.path.join(folder, f"db{n}")
        took, out = timed([HOLDFAST, "take", csv, "--voyage", voyage, "--json"])
        if f'"stored":{a.rows}' not in out:
            sys.exit(f"not every row was stored: {out[:300]}")
        ours.append(took)
        script = ("PRAGMA journal_mode=WAL;\nPRAGMA synchronous=FULL;\n.mode csv\n"
                  f".import {csv} reading\nSELECT count(*) FROM reading;\n")
        took, out = timed(["sqlite3", db], input=script)
        if str(a.rows) not in out:
            sys.exit(f"sqlite3 did not import every row: {out}")
        theirs.append(took)
        print(f"run {n + 1}: holdfast take {ours[-1]:.2f} s, sqlite3 .import {theirs[-1]:.2f} s, "
              f"ratio {ours[-1] / theirs[-1]:.2f}; files {os.path.getsize(voyage) / 1e6:.0f} and "
              f"{os.path.getsize(db) / 1e6:.0f} MB", flush=True)
        os.remove(voyage)
        os.remove(db)
    ratio = statistics.median(o / t for o, t in zip(ours, theirs))
    print(f"{a.rows} rows, {size:.0f} MB of CSV, median of {a.runs}: holdfast take "
          f"{statistics.median(ours):.2f} s, sqlite3 .import {statistics.median(theirs):.2f} s, "
          f"ratio {ratio:.2f}")
    shutil.rmtree(folder)
    limit = 15.0 * a.rows / 1_000_000
    if statistics.median(ours) > limit:
        sys.exit(f"slower than {limit:.1f} s")


if __name__ == "__main__":
    main()
