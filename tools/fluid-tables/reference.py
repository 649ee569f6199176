#!/usr/bin/env python3
"""Random reference states from CoolProp, for comparing the tables with.

    reference.py COUNT FOLDER [NAME...]     COUNT states of each kind per refrigerant

Rows (SI, mass based, CoolProp's default reference for h and s):
    sat,SIDE,T,p,rho,h,s            on the bubble or dew line
    one,p,T,rho,h,s,cp,visc,cond    from pressure and temperature; empty where CoolProp has none
    wet,p,q,T,rho,h,s               by quality
A tenth of each kind lies within 2 K of the critical temperature. For pure fluids the
full flash of CoolProp is asked, not the solver that made the tables. For blends the phase of `one`
is told from the envelope, and `sat` and `wet` are asked as when the tables were made (eos.py); where
the flash of a blend fails, the row is left out and counted at the end of the file.
"""
import pathlib
import random
import sys

import CoolProp as CP
from CoolProp.CoolProp import AbstractState

from eos import Eos
from refrigerants import COLDEST_C, REFRIGERANTS, WARMEST_C

SEED = 20260105


def fmt(x):
    return "" if x is None else f"{x:.11g}"


def phase_of(eos, p, t):
    """Blends: the blind flash of a mixture returns false roots (densities of the wrong phase,
    enthalpies of 1e15 J/kg), so the phase is told from the envelope; None between the lines."""
    if p > eos.top[1]:
        return CP.iphase_liquid if t < eos.top[0] else CP.iphase_supercritical_gas
    if p > 0.95 * eos.top[1] and abs(t - eos.top[0]) < 4.0:
        return None
    if t > eos.top[0] or t >= eos.saturation_p(p, 1):
        return CP.iphase_gas
    return CP.iphase_liquid if t <= eos.saturation_p(p, 0) else None


def one(eos, state, moving, p, t):
    if eos.blend:
        phase = phase_of(eos, p, t)
        if phase is None:
            return None
        state.specify_phase(phase)
    state.update(CP.PT_INPUTS, p, t)
    cp = state.cpmass()
    visc = cond = None
    if moving is not None and cp is not None:
        try:
            moving.update(CP.PT_INPUTS, p, t)
            visc, cond = moving.viscosity(), moving.conductivity()
        except ValueError:
            pass
    return [state.rhomass(), state.hmass(), state.smass(), cp, visc, cond]


def rows(name, count):
    spec = REFRIGERANTS[name]
    eos = Eos(spec["source"])
    dice = random.Random(f"{SEED} {name}")
    state = AbstractState("HEOS", spec["source"])
    moving = AbstractState("HEOS", spec["transport"]) if spec["transport"] else None
    tc, pc = eos.top if eos.blend else (state.T_critical(), state.p_critical())
    t_top = tc - (0.6 if eos.blend else 0.0)
    t_min = max(COLDEST_C + 273.15, max(CP.CoolProp.PropsSI("Ttriple", n) for n in eos.names)
                + (0.5 if eos.blend else 0.0))
    t_max, p_max = WARMEST_C + 273.15, spec["p_max_mpa"] * 1e6
    failed = 0
    for i in range(count):
        near = i % 10 == 0
        t = dice.uniform(tc - 2.0 if near else t_min, t_top)
        side = i // 2 % 2
        p, rho, h, s = eos.saturation(t, side)
        yield ["sat", "dew" if side else "bubble", repr(t), repr(p)] + [
            fmt(x) for x in (rho * eos.molar_mass, h, s)]
    for i in range(count):
        near = i % 10 == 0
        t = dice.uniform(*((tc - 2.0, tc + 2.0) if near else (t_min, t_max)))
        p = (pc * dice.uniform(0.9, 1.1) if near
             else 1e3 * (p_max / 1e3) ** dice.random())
        try:
            found = one(eos, state, moving, p, t)
        except ValueError:
            failed += 1
            continue
        if found:
            yield ["one", repr(p), repr(t)] + [fmt(x) for x in found]
    p_low = eos.saturation(t_min + 1.0, 0)[0]
    for i in range(count // 2):
        p, q = p_low * (0.9 * pc / p_low) ** dice.random(), dice.random()
        try:
            t, rho, h, s = eos.two_phase(p, q)
        except ValueError:
            failed += 1
            continue
        yield ["wet", repr(p), repr(q)] + [fmt(x) for x in (t, rho, h, s)]
    yield ["failed", str(failed)]


def main():
    count, folder = int(sys.argv[1]), pathlib.Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    for name in sys.argv[3:] or REFRIGERANTS:
        text = "".join(",".join(r) + "\n" for r in rows(name, count))
        head = f"# CoolProp {CP.__version__} HEOS::{REFRIGERANTS[name]['source']}\n"
        (folder / f"{name}.csv").write_text(head + text)
        print(name, text.count("\n"), text.splitlines()[-1], flush=True)


if __name__ == "__main__":
    main()
