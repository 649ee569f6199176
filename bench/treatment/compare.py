#!/usr/bin/env python3
"""Cold-treatment checks straight from CSV: `holdfast treatment check --all` beside the same check
in DuckDB SQL and in Polars, same file, one run, one core each, in turn.

    python3 -m venv VENV && VENV/bin/pip install duckdb polars
    cargo build --release
    python3 bench/treatment/compare.py --python VENV/bin/python [--boxes 100000] [--runs 3]

Prints wall time, processor time, MB/s of CSV and peak memory of every run and the best of each,
and compares the answers box by box: verdict, start, time met, number of breaches. Linux only
(taskset). Files are made in --dir (default: a temporary folder), about 2.3 GB for 100,000 boxes.
"""
import argparse
import csv
import json
import os
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
HOLDFAST = os.environ.get("HOLDFAST_BIN", os.path.join(ROOT, "target/release/holdfast"))
POLARS = os.path.join(HERE, "with_polars.py")


def contenders(python, source, out):
    """Name, command, where its answer goes."""
    check = [HOLDFAST, "treatment", "check", "--schedule", os.path.join(HERE, "schedule.toml"),
             "--readings", source, "--all", "--json"]
    result = lambda n: os.path.join(out, n)  # noqa: E731
    return [
        ("holdfast", check, result("holdfast.json")),
        ("DuckDB SQL", [python, os.path.join(HERE, "with_duckdb.py"), source, result("duck.csv")],
         result("duck.csv")),
        ("Polars, any order", [python, POLARS, source, result("any.csv"), "--streaming"],
         result("any.csv")),
        ("Polars, rows known grouped", [python, POLARS, source, result("known.csv"), "--grouped",
                                        "--streaming"], result("known.csv")),
    ]


def run(command, answer):
    """Wall seconds, processor seconds, peak MB."""
    target = open(answer, "wb") if answer.endswith(".json") else subprocess.DEVNULL
    begin = time.perf_counter()
    child = subprocess.Popen(["taskset", "-c", str(max(os.sched_getaffinity(0)))] + command,
                             stdout=target)
    _, status, used = os.wait4(child.pid, 0)
    wall = time.perf_counter() - begin
    code = os.waitstatus_to_exitcode(status)
    if code not in (0, 3):
        sys.exit(f"{command[0]} ended with {code}")
    return wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def answers(path):
    """Box -> (verdict, start, time met, breaches)."""
    plain = lambda t: (t or "").replace("T", " ").rstrip("Z").split(".")[0]  # noqa: E731
    if path.endswith(".json"):
        with open(path) as f:
            rows = json.load(f)["boxes"]
        return {r["unit"]: (r["verdict"], plain(r["started_at"]), plain(r["time_met_at"]),
                            r["breaches"]) for r in rows}
    with open(path) as f:
        return {r["unit"]: (r["verdict"], plain(r["started"]), plain(r["time_met"]),
                            int(r["breaches"])) for r in csv.DictReader(f)}


def agree(all_answers):
    """Counts boxes whose answers differ from the first contender's."""
    (first, ours), *others = all_answers
    for name, theirs in others:
        differ = [u for u in ours.keys() | theirs.keys() if ours.get(u) != theirs.get(u)]
        print(f"  {name}: {len(theirs)} boxes, {len(differ)} differ from {first}")
        for u in sorted(differ)[:3]:
            print(f"    {u}: {ours.get(u)} / {theirs.get(u)}")


def main():
    a = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    a.add_argument("--python", default=sys.executable, help="with duckdb and polars")
    a.add_argument("--boxes", type=int, default=100_000)
    a.add_argument("--faulty", type=float, default=0.05, help="part of the records with faults")
    a.add_argument("--by-time", action="store_true", help="rows hour by hour, not box by box")
    a.add_argument("--runs", type=int, default=3)
    a.add_argument("--dir", help="keep files here")
    a = a.parse_args()
    folder = a.dir or tempfile.mkdtemp(prefix="treatment-bench-")
    source = os.path.join(folder, f"{'time' if a.by_time else 'box'}-{a.boxes}-{a.faulty}.csv")
    if not os.path.exists(source):
        order = ["--by-time"] if a.by_time else []
        subprocess.run([sys.executable, os.path.join(HERE, "make_file.py"), source, "--boxes",
                        str(a.boxes), "--faulty", str(a.faulty)] + order, check=True)
    mb = os.path.getsize(source) / 1e6
    print(f"{a.boxes} boxes, {mb:.0f} MB, {'hour by hour' if a.by_time else 'box by box'}, "
          f"{a.faulty:.0%} faulty; {a.runs} runs in turn, one core each")
    entrants = contenders(a.python, source, folder)
    if a.by_time:
        entrants = [e for e in entrants if "grouped" not in e[0]]
    best = {}
    for n in range(a.runs):
        for name, command, answer in entrants:
            got = run(command, answer)
            best[name] = min(best.get(name, got), got)
            print(f"  run {n + 1} {name:27} {got[0]:7.2f} s wall {got[1]:7.2f} s processor "
                  f"{mb / got[0]:6.0f} MB/s {got[2]:7.0f} MB peak", flush=True)
    print("best of each")
    ours = best["holdfast"]
    for name, got in best.items():
        print(f"  {name:27} {got[0]:7.2f} s wall {got[1]:7.2f} s processor {mb / got[0]:6.0f} MB/s"
              f" {got[2]:7.0f} MB peak  {got[0] / ours[0]:5.1f} x wall {got[1] / ours[1]:5.1f} x processor")
    agree([(name, answers(answer)) for name, _, answer in entrants])
    if not a.dir:
        for f in os.listdir(folder):
            os.remove(os.path.join(folder, f))
        os.rmdir(folder)


if __name__ == "__main__":
    main()
