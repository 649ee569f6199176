#!/usr/bin/env python3
"""Property calls of the tables beside CoolProp's low-level interface, in one run.

    FLUIDS_VENV/bin/python bench/fluids/compare.py

CoolProp is called as AbstractState.update from Python, its fastest door there: the package ships
no library that a C++ program could link (its symbols are hidden). The cost of a bare call of the
same object (a cached value asked for) is measured, said, and taken off. The mixtures have no
BICUBIC backend; CoolProp's pseudo-pure R404A has one and stands beside our mixture. Best of several
passes over states drawn as in crates/fluids/examples/speed.rs. HEOS is asked of R134a and of the
mixture R404A only. The first run makes CoolProp's own tables (a minute; kept in the home folder).
"""
import json
import pathlib
import subprocess
import time

import CoolProp as CP
from CoolProp.CoolProp import AbstractState

ROOT = pathlib.Path(__file__).resolve().parents[2]
# Short passes, so that some are not interrupted by the machine's other work.
COUNT, ROUNDS = 1000, 6


# Name of ours, CoolProp's name, backends, states.
ROWS = (
    ("R134a", "R134a", ("HEOS", "BICUBIC&HEOS"), COUNT),
    ("R404A", "R404A.mix", ("HEOS",), 20),
    ("R404A", "R404A", ("BICUBIC&HEOS",), COUNT),
    ("R744", "CarbonDioxide", ("BICUBIC&HEOS",), COUNT),
    ("R290", "n-Propane", ("BICUBIC&HEOS",), COUNT),
    ("R1234yf", "R1234yf", ("BICUBIC&HEOS",), COUNT),
    ("R23", "R23", ("BICUBIC&HEOS",), COUNT),
)


def states(count, from_pa):
    x, out = 20260105, []

    def draw():
        nonlocal x
        x = (x * 6364136223846793005 + 1442695040888963407) % 2**64
        return (x >> 11) / 2**53
    for _ in range(count):
        p = from_pa * (3e6 / from_pa) ** draw()
        out.append((p, 5.0 + 55.0 * draw()))
    return out


def best(call, args):
    least = float("inf")
    for _ in range(20 if len(args) == COUNT else 5):
        start = time.perf_counter_ns()
        for a in args:
            call(*a)
        least = min(least, (time.perf_counter_ns() - start) / len(args))
    return least


def build_ours():
    """Path of the built program: building anew in every round would wait for other builds."""
    command = ["cargo", "build", "--release", "-q", "-p", "fluids", "--example", "speed",
               "--message-format=json"]
    lines = subprocess.check_output(command, cwd=ROOT, text=True).splitlines()
    made = [json.loads(x).get("executable") for x in lines]
    return [x for x in made if x][-1]


def run_ours(program):
    ours = {}
    for line in subprocess.check_output([program], text=True).splitlines():
        *key, value = line.split(",")
        ours[tuple(key)] = float(value)
    return ours


def t_sat(s):
    return lambda *a: s.update(*a)


def state(s):
    def call(*a):
        s.update(*a)
        s.hmass(), s.smass(), s.rhomass()
    return call


def run_coolprop(ours):
    out, bares = {}, {}
    wrapper = best(lambda *a: None, [(1, 2, 3)] * COUNT)
    for name, source, backends, count in ROWS:
        for backend in backends:
            s = AbstractState(backend, source)
            dew, pq = [], []
            for p, dt in states(count, ours[(name, "from_pa")]):
                s.update(CP.PQ_INPUTS, p, 1.0)
                dew.append((CP.PT_INPUTS, p, s.T() + dt))
                pq.append((CP.PQ_INPUTS, p, 1.0))
            s.update(*dew[0])
            s.T()
            bare = best(s.keyed_output, [(CP.iT,)] * COUNT)
            bares[backend] = min(bare, bares.get(backend, bare))
            goal = 20 if backend == "HEOS" else 8
            for what, call, args, calls, key in (
                    ("T_sat(p)", t_sat(s), pq, 1, "t_sat_ns"),
                    ("(T,p)->h,s,rho", state(s), dew, 4, "h_s_rho_ns")):
                out[(name, backend, what, key, goal, calls)] = best(call, args)
    return out, wrapper, bares


def main():
    rounds, program = [], build_ours()
    for _ in range(ROUNDS):
        ours = run_ours(program)
        rounds.append((ours, *run_coolprop(ours)))
    ours = {key: min(r[0][key] for r in rounds) for key in rounds[0][0]}
    print(f"start-up of all tables {ours[('start_up_ms',)]:.2f} ms; "
          f"largest table {ours[('table_bytes_largest',)]:.0f} bytes")
    print("fluid   backend       call                ns/call  less call  ours ns  ratio  goal")
    # Least of each, a bare call whatever the fluid: a call timed while the machine was busy must
    # not be taken off one timed while it was idle.
    wrapper = min(r[2] for r in rounds)
    for row in rounds[0][1]:
        name, backend, what, key, goal, calls = row
        gross = min(r[1][row] for r in rounds)
        net = gross - wrapper - calls * min(r[3][backend] for r in rounds)
        mine = ours[(name, key)]
        print(f"{name:7} {backend:13} {what:18} {gross:8.0f} {net:10.0f} {mine:8.1f} "
              f"{net / mine:6.1f}  {goal}")
    print("least of", ROUNDS, "rounds, ours and theirs in turn (the clock of the machine varies)")


if __name__ == "__main__":
    main()
