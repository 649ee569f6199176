#!/usr/bin/env python3
"""The benchmark's cold-treatment check in Polars, one thread.

    python3 with_polars.py READINGS.csv RESULT.csv            rows in any order
    python3 with_polars.py READINGS.csv RESULT.csv --grouped  rows known to be grouped by box and
                                                              in order of time: no sorting at all

What the schedule of this benchmark (schedule.toml) needs and no more: start, excursions, steps,
gaps, faults, time met, verdict, number of breaches. Temperatures are compared in whole hundredths
of a degree, so that 0.39 is 0.39. Assumed for its benefit: no instant twice for one box, every
row well formed, three probes fitted, no calibration.
"""
import os
import sys

os.environ["POLARS_MAX_THREADS"] = "1"

import polars as pl  # noqa: E402

PROBES = ["probe1_c", "probe2_c", "probe3_c"]
LIMIT, STEP = 111, 39
GAP = pl.duration(minutes=60)
DUE = pl.duration(hours=336)


def read(source):
    schema = {"time_utc": pl.String, "unit": pl.String} | {p: pl.Float32 for p in PROBES}
    rows = pl.scan_csv(source, schema=schema)
    hundredths = [(pl.col(p) * 100).round().cast(pl.Int16) for p in PROBES]
    good = [pl.when(h.is_between(-4000, 6000)).then(h).alias(p)
            for p, h in zip(PROBES, hundredths)]
    t = pl.col("time_utc").str.to_datetime("%Y-%m-%dT%H:%M:%SZ", time_unit="ms").alias("t")
    rows = rows.select("unit", t, *good)
    return rows.filter(pl.any_horizontal(pl.col(p).is_not_null() for p in PROBES))


def neighbours(rows, grouped):
    """Adds the start, and beside every row what went before it in its box since the start."""
    cold = pl.all_horizontal(pl.col(p) <= LIMIT for p in PROBES)
    if grouped:
        starts = rows.filter(cold).group_by("unit").agg(pl.col("t").min().alias("s"))
        rows = rows.join(starts, on="unit", how="inner", maintain_order="left")
        rows = rows.filter(pl.col("t") >= pl.col("s"))
        # Every probe is read at the start, so filling forward never crosses from box to box.
        own = pl.col("unit") == pl.col("unit").shift(1)
        before = [pl.when(own).then(pl.col("t").shift(1)).alias("t0")]
        for p in PROBES:
            before.append(pl.when(own).then(pl.col(p).shift(1)).alias(p + "1"))
            before.append(pl.when(own).then(pl.col(p).forward_fill().shift(1)).alias(p + "0"))
        return rows.with_columns(before)
    start = pl.col("t").filter(cold).min()
    rows = rows.with_columns(start.over("unit").alias("s")).filter(pl.col("t") >= pl.col("s"))
    before = [pl.col("t").shift(1).alias("t0")]
    for p in PROBES:
        before.append(pl.col(p).shift(1).alias(p + "1"))
        before.append(pl.col(p).forward_fill().shift(1).alias(p + "0"))
    return rows.sort("unit", "t").with_columns(b.over("unit") for b in before)


def count(rows):
    """Breaches that begin at a row."""
    n = (pl.col("t") - pl.col("t0") > GAP).fill_null(False).cast(pl.Int32)
    for p in PROBES:
        now, last, before = pl.col(p), pl.col(p + "0"), pl.col(p + "1")
        n += ((now > LIMIT) & (last <= LIMIT)).fill_null(False).cast(pl.Int32)
        n += ((now - last).abs() > STEP).fill_null(False).cast(pl.Int32)
        n += (now.is_null() & before.is_not_null()).cast(pl.Int32)
    return rows.select("unit", "t", "s", n.alias("n"))


def verdicts(rows, grouped):
    t, s, n = pl.col("t"), pl.col("s"), pl.col("n")
    begun = count(neighbours(rows, grouped)).group_by("unit").agg(
        s.first().alias("started"),
        t.filter(n > 0).min().alias("broken"),
        t.filter(t >= s + DUE).min().alias("due"),
        n.sum().alias("breaches"),
    )
    broken, due = pl.col("broken"), pl.col("due")
    met = due.is_not_null() & (broken.is_null() | (broken > due))
    verdict = (pl.when(pl.col("started").is_null()).then(pl.lit("not_started"))
               .when(met).then(pl.lit("time_met"))
               .when(broken.is_not_null()).then(pl.lit("invalid_pending"))
               .otherwise(pl.lit("running")))
    units = rows.select("unit").unique()
    return units.join(begun, on="unit", how="left").select(
        "unit", verdict.alias("verdict"), "started",
        pl.when(met).then(due).alias("time_met"), pl.col("breaches").fill_null(0))


def main():
    source, result = sys.argv[1:3]
    grouped = "--grouped" in sys.argv
    engine = "streaming" if "--streaming" in sys.argv else "in-memory"
    verdicts(read(source), grouped).collect(engine=engine).write_csv(result)


if __name__ == "__main__":
    main()
