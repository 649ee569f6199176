#!/usr/bin/env python3
"""Property calls of the tables beside CoolProp's low-level interface, in one run.

    FLUIDS_VENV/bin/python bench/fluids/compare.py

CoolProp is called as AbstractState.update from Python, its fastest door there: the package ships
no library that a C++ program could link (its symbols are hidden). The cost of a bare call of the
same object (a cached value asked for) is measured, said, and taken off. The mixture R404A has no
BICUBIC backend. Best of several passes over the same states as crates/fluids/examples/speed.rs.
"""
import pathlib
import subprocess
import time

import CoolProp as CP
from CoolProp.CoolProp import AbstractState

ROOT = pathlib.Path(__file__).resolve().parents[2]
COUNT, PASSES, ROUNDS = 4000, 5, 6


def states(count):
    x, out = 20260105, []

    def draw():
        nonlocal x
        x = (x * 6364136223846793005 + 1442695040888963407) % 2**64
        return (x >> 11) / 2**53
    for _ in range(count):
        p = 100e3 * 30 ** draw()
        out.append((p, 5.0 + 55.0 * draw()))
    return out


def best(call, args):
    least = float("inf")
    for _ in range(PASSES):
        start = time.perf_counter_ns()
        for a in args:
            call(*a)
        least = min(least, (time.perf_counter_ns() - start) / len(args))
    return least


def run_ours():
    command = ["cargo", "run", "--release", "-q", "-p", "fluids", "--example", "speed"]
    ours = {}
    for line in subprocess.check_output(command, cwd=ROOT, text=True).splitlines():
        *key, value = line.split(",")
        ours[tuple(key)] = float(value)
    return ours


def run_coolprop():
    out = {}
    for name, source, backends in (("R134a", "R134a", ("HEOS", "BICUBIC&HEOS")),
                                   ("R404A", "R404A.mix", ("HEOS",))):
        n = COUNT if name == "R134a" else 20
        for backend in backends:
            s = AbstractState(backend, source)
            drawn = states(n)
            dew = []
            for p, dt in drawn:
                s.update(CP.PQ_INPUTS, p, 1.0)
                dew.append((CP.PT_INPUTS, p, s.T() + dt))
            pq = [(CP.PQ_INPUTS, p, 1.0) for p, _ in drawn]
            s.update(CP.PT_INPUTS, 1e5, 300.0)
            s.T()
            bare = best(s.keyed_output, [(CP.iT,)] * COUNT)

            def t_sat(*a):
                s.update(*a)

            def state(*a):
                s.update(*a)
                s.hmass(), s.smass(), s.rhomass()

            wrapper = best(lambda *a: None, [(1, 2, 3)] * COUNT)
            goal = 20 if backend == "HEOS" else 8
            for what, call, args, calls, key in (
                    ("T_sat(p)", t_sat, pq, 1, "t_sat_ns"),
                    ("(T,p)->h,s,rho", state, dew, 4, "h_s_rho_ns")):
                gross = best(call, args)
                net = gross - wrapper - calls * bare
                out[(name, backend, what, key, goal)] = (gross, net)
    return out


def main():
    rounds = []
    for k in range(ROUNDS):
        rounds.append((run_ours(), run_coolprop()))
    ours = {key: min(o[key] for o, _ in rounds) for key in rounds[0][0]}
    print(f"start-up of all tables {ours[('start_up_ms',)]:.2f} ms; "
          f"largest table {ours[('table_bytes_largest',)]:.0f} bytes")
    print("fluid  backend       call                ns/call  less call  ours ns  ratio  goal")
    for row in rounds[0][1]:
        name, backend, what, key, goal = row
        gross, net = (min(c[row][i] for _, c in rounds) for i in (0, 1))
        mine = ours[(name, key)]
        print(f"{name:6} {backend:13} {what:18} {gross:8.0f} {net:10.0f} {mine:8.1f} "
              f"{net / mine:6.1f}  {goal}")
    print("least of", ROUNDS, "rounds, ours and theirs in turn (the clock of the machine varies)")


if __name__ == "__main__":
    main()
