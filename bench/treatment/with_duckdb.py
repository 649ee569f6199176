#!/usr/bin/env python3
"""The benchmark's cold-treatment check in DuckDB SQL, one thread.

    python3 with_duckdb.py READINGS.csv RESULT.csv

What the schedule of this benchmark (schedule.toml) needs and no more: start, excursions, steps,
gaps, faults, time met, verdict, number of breaches. The limits are written into the query.
Assumed for its benefit: no instant twice for one box, every row well formed, three probes fitted,
no calibration.
"""
import sys

import duckdb

CHECK = """
WITH good AS (
  SELECT unit, time_utc AS t,
    CASE WHEN probe1_c BETWEEN -40 AND 60 THEN probe1_c END AS a,
    CASE WHEN probe2_c BETWEEN -40 AND 60 THEN probe2_c END AS b,
    CASE WHEN probe3_c BETWEEN -40 AND 60 THEN probe3_c END AS c
  FROM read_csv(?, header = true, columns = {
    'time_utc': 'TIMESTAMP', 'unit': 'VARCHAR',
    'probe1_c': 'DECIMAL(6,2)', 'probe2_c': 'DECIMAL(6,2)', 'probe3_c': 'DECIMAL(6,2)'})
), marked AS (
  SELECT *, min(CASE WHEN a <= 1.11 AND b <= 1.11 AND c <= 1.11 THEN t END)
    OVER (PARTITION BY unit) AS s
  FROM good WHERE a IS NOT NULL OR b IS NOT NULL OR c IS NOT NULL
), paired AS (
  SELECT unit, t, s, a, b, c,
    lag(t) OVER w AS t0,
    lag(a) OVER w AS a1, lag(b) OVER w AS b1, lag(c) OVER w AS c1,
    lag(a IGNORE NULLS) OVER w AS a0,
    lag(b IGNORE NULLS) OVER w AS b0,
    lag(c IGNORE NULLS) OVER w AS c0
  FROM marked WHERE t >= s OR s IS NULL
  WINDOW w AS (PARTITION BY unit ORDER BY t)
), counted AS (
  SELECT unit, t, s,
    -- every probe is cold at the start, so a warm run begins after a cold reading
    ifnull((a > 1.11 AND a0 <= 1.11)::INT, 0) + ifnull((b > 1.11 AND b0 <= 1.11)::INT, 0)
    + ifnull((c > 1.11 AND c0 <= 1.11)::INT, 0)
    + ifnull((abs(a - a0) > 0.39)::INT, 0) + ifnull((abs(b - b0) > 0.39)::INT, 0)
    + ifnull((abs(c - c0) > 0.39)::INT, 0)
    + ifnull((t - t0 > INTERVAL 60 MINUTE)::INT, 0)
    + (a IS NULL AND a1 IS NOT NULL)::INT + (b IS NULL AND b1 IS NOT NULL)::INT
    + (c IS NULL AND c1 IS NOT NULL)::INT AS n
  FROM paired
), summed AS (
  SELECT unit, min(s) AS started,
    min(t) FILTER (n > 0) AS broken,
    min(t) FILTER (t >= s + INTERVAL 336 HOUR) AS due,
    sum(n) AS breaches
  FROM counted GROUP BY unit
)
SELECT unit,
  CASE WHEN started IS NULL THEN 'not_started'
       WHEN due IS NOT NULL AND (broken IS NULL OR broken > due) THEN 'time_met'
       WHEN broken IS NOT NULL THEN 'invalid_pending'
       ELSE 'running' END AS verdict,
  started, CASE WHEN verdict = 'time_met' THEN due END AS time_met, CASE WHEN started IS NULL THEN 0 ELSE breaches END AS breaches
FROM summed
"""


def main():
    source, result = sys.argv[1:3]
    db = duckdb.connect()
    db.execute("SET threads = 1")
    db.execute("SET preserve_insertion_order = false")
    db.execute(f"COPY ({CHECK}) TO '{result}' (HEADER)", [source])


if __name__ == "__main__":
    main()
