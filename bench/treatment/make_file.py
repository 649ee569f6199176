#!/usr/bin/env python3
"""Writes a made-up readings file for the treatment benchmark (standard library only).

    python3 make_file.py OUT.csv --boxes 100000            rows grouped by box
    python3 make_file.py OUT.csv --boxes 1000 --by-time    rows of all boxes hour by hour
    python3 make_file.py OUT.csv --faulty 0.5              half of the records have faults

Every record: hourly, three probes, 20 days, °C with two decimals. Boxes, figures and faults are
invented; the same arguments always give the same bytes. Faults: an excursion, a step, missing
hours, empty cells, a fault code, a box that never gets cold, one that gets cold too late.
"""
import argparse
import datetime
import random

HOURS = 20 * 24
PATTERNS = 997
FAULTS = ["excursion", "step", "gap", "empty", "code", "warm", "late"]
BEGIN = datetime.datetime(2026, 3, 1)


def check_digit(body):
    """ISO 6346, as in crates/record/src/unit_id.rs."""
    total = 0
    for i, c in enumerate(body):
        n = ord(c) - ord("A")
        value = int(c) if c.isdigit() else n + 10 + (n >= 1) + (n >= 11) + (n >= 21)
        total += value << i
    return total % 11 % 10


def unit(i):
    body = f"QQQU{i % 1_000_000:06d}"
    return f"{body}{check_digit(body)}"


def walk(r, fault):
    """Hundredths of a degree, hour by hour, for one probe."""
    level = r.randint(20, 60)
    warm_for = 24 * 10 if fault == "late" else 0
    v = level + r.randint(120, 300)
    out = []
    for hour in range(HOURS):
        if fault == "warm" or hour < warm_for:
            v = 250 + r.randint(-8, 8)
        elif v > level + 30:
            v -= r.randint(10, 35)
        else:
            v += r.randint(-7, 7) + (1 if v < level else -1)
        out.append(v)
    return out


def pattern(n, faulty):
    """Rows of one record: (hour, cells after the box number) with the hours that are there."""
    r = random.Random(n)
    fault = r.choice(FAULTS) if r.random() < faulty else None
    probes = [walk(r, fault) for _ in range(3)]
    cells = [[f"{v / 100:.2f}" for v in p] for p in probes]
    gone = set()
    at, which = r.randint(30, HOURS - 30), r.randint(0, 2)
    if fault == "excursion":
        top = 111 + r.randint(1, 30)
        p, back = probes[which], []
        v = p[at]
        while v < top:
            v = min(top, v + 35)
            back.append(v)
        back += [top] * r.randint(0, 5) + back[::-1]
        cells[which][at : at + len(back)] = [f"{v / 100:.2f}" for v in back]
        cells[which] = cells[which][:HOURS]
    elif fault == "step":
        cells[which][at] = f"{(probes[which][at - 1] - r.randint(40, 60)) / 100:.2f}"
    elif fault == "gap":
        gone = set(range(at, at + r.randint(1, 6)))
    elif fault in ("empty", "code"):
        for h in range(at, at + r.randint(1, 6)):
            cells[which][h] = "" if fault == "empty" else "-50.00"
    return [None if h in gone else ",".join(c[h] for c in cells) for h in range(HOURS)]


def main():
    a = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    a.add_argument("out")
    a.add_argument("--boxes", type=int, default=10_000)
    a.add_argument("--faulty", type=float, default=0.05)
    a.add_argument("--by-time", action="store_true")
    a = a.parse_args()
    times = [(BEGIN + datetime.timedelta(hours=h)).strftime("%Y-%m-%dT%H:%M:%SZ")
             for h in range(HOURS)]
    patterns = [pattern(n, a.faulty) for n in range(min(PATTERNS, a.boxes))]
    units = [unit(i) for i in range(a.boxes)]
    with open(a.out, "w", encoding="ascii", newline="") as f:
        f.write("time_utc,unit,probe1_c,probe2_c,probe3_c\n")
        if a.by_time:
            for h, t in enumerate(times):
                tails = [p[h] for p in patterns]
                k = len(tails)
                f.writelines(f"{t},{u},{tails[i % k]}\n" for i, u in enumerate(units)
                             if tails[i % k] is not None)
        else:
            texts = ["".join(f"{t},UNIT,{row}\n" for t, row in zip(times, p) if row is not None)
                     for p in patterns]
            for i, u in enumerate(units):
                f.write(texts[i % len(texts)].replace("UNIT", u))


if __name__ == "__main__":
    main()
