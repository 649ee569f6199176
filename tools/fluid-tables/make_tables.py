#!/usr/bin/env python3
"""Makes data/fluids/NAME.bin from CoolProp for one refrigerant of refrigerants.py, or all.

    make_tables.py R134a        make_tables.py all

docs/fluids.md says what is stored; crates/fluids/src/table.rs reads it.
"""
import math
import pathlib
import struct
import sys
import time

import CoolProp as CP
import numpy as np

from eos import Eos
from pieces import ORDER, ORDER_1D, Block, fit_line
from refrigerants import COLDEST_C, REFRIGERANTS, WARMEST_C

ROOT = pathlib.Path(__file__).resolve().parents[2]
MAGIC = b"HFFLUID2"
VAPOUR, LOW, LIQUID, DENSE, BESIDE, MIXED = range(6)
TRANSPORT = 10  # added to the kind


class Refrigerant:
    def __init__(self, name, source, transport, p_max_mpa):
        self.name, self.p_max = name, p_max_mpa * 1e6
        self.eos = eos = Eos(source)
        self.transport = Eos(transport) if transport else None
        # A pseudo-pure equation may end warmer than the mixture's table does.
        self.t_moving = CP.CoolProp.PropsSI("Tmin", transport) if transport else 0.0
        triple = max(self.component_triples())
        self.t_triple = triple
        self.t_min = max(COLDEST_C + 273.15, triple + (0.0 if not eos.blend else 0.5))
        self.t_max = WARMEST_C + 273.15
        if eos.blend:
            self.tc, self.pc = eos.top
            self.t_top = self.tc - 0.6
            self.t_beside, self.p_beside = self.tc + 2.5, self.pc * 1.06
        else:
            self.tc, self.pc = eos.sat.T_critical(), eos.sat.p_critical()
            self.t_top, self.t_beside, self.p_beside = self.tc, self.tc, self.pc
            self.refused = (self.tc - 0.05, self.tc + 0.05, self.pc * 0.998, self.pc * 1.002)
        self.r = eos.r_mass
        self.lines()

    def component_triples(self):
        return [CP.CoolProp.PropsSI("Ttriple", n) for n in self.eos.names]

    def sat(self, t, q):
        p, rho, h, s = self.eos.saturation(t, q)
        return math.log(p), math.log(rho * self.eos.molar_mass), h, s

    def lines(self):
        """Bubble and dew line against sqrt(1 - T/Tref) and their inverses against
        sqrt(ln(pref/p)): both remove the square-root behaviour at the critical point."""
        blend = self.eos.blend
        top = [math.exp(self.sat(self.t_top, q)[0]) for q in (0, 1)] if blend else [self.pc] * 2
        self.p_top = top
        self.t_ref = self.tc + (0.5 if blend else 0.0)
        self.p_ref = self.pc * (1.02 if blend else 1.0)
        tight = np.array([5e-8, 2e-7, 0.1, 3e-4])
        self.of_t, self.of_p = [], []
        for q in (0, 1):
            w = [math.sqrt(max(1 - t / self.t_ref, 0.0)) for t in (self.t_top, self.t_min)]
            self.of_t.append(fit_line(
                lambda w: np.array(self.sat(self.t_ref * (1 - w * w), q)), *w, tight,
                label="dew of T" if q else "bubble of T"))
            p_min = math.exp(self.of_t[q](w[1])[0])
            z = [math.sqrt(max(math.log(self.p_ref / p), 0.0)) for p in (top[q], p_min)]
            self.of_p.append(fit_line(
                lambda z: np.array([self.eos.saturation_p(self.p_ref * math.exp(-z * z), q)]),
                *z, np.array([1e-6]), label="dew of p" if q else "bubble of p"))
        if blend:
            self.refused = (self.t_top, self.t_beside, min(top), self.p_beside)
        self.p_low = math.exp(self.of_t[1](w[1])[0])
        coldest = math.exp(self.of_t[0](self.of_t[0].hi)[1]) / self.eos.molar_mass
        self.rho_high = self.eos.density(self.t_min, self.p_max, coldest, coldest) * 1.0001

    def on_line(self, q, t):
        w = math.sqrt(max(1 - t / self.t_ref, 0.0))
        lnp, lnrho, h, s = self.of_t[q](w)
        return math.exp(lnp), math.exp(lnrho), h, s

    def t_on_line(self, q, p):
        return float(self.of_p[q](math.sqrt(max(math.log(self.p_ref / p), 0.0)))[0])

    # Coordinates of each block: (u, v) in the unit square to (p, T).

    def where(self, kind, u, v):
        if kind == VAPOUR:
            line = self.of_p[1]
            z = line.lo + u * (line.hi - line.lo)
            td = float(line(z)[0])
            return self.p_ref * math.exp(-z * z), td + v * (self.t_max - td)
        if kind == LOW:
            td = self.t_on_line(1, self.p_low)
            return max(u, 1e-9) * self.p_low, td + v * (self.t_max - td)
        if kind == LIQUID:
            line = self.of_t[0]
            w = line.lo + u * (line.hi - line.lo)
            t = self.t_ref * (1 - w * w)
            pb = math.exp(line(w)[0])
            return pb + v * (self.p_max - pb), t
        if kind == DENSE:
            return (self.p_beside * (self.p_max / self.p_beside) ** (u * u),
                    self.t_top + v * v * (self.t_max - self.t_top))
        return (self.p_top[1] * (self.p_beside / self.p_top[1]) ** u,
                self.t_beside + v * (self.t_max - self.t_beside))

    def density(self, eos, kind, p, t, guess):
        m, r = eos.molar_mass, self.r * self.eos.molar_mass
        if kind in (VAPOUR, LOW, BESIDE):
            high = self.rho_high
            if kind == VAPOUR:
                high = self.on_line(1, self.t_on_line(1, p))[1] / m * 1.01
            for g in (guess, p / (r * t)):
                rho = eos.density(t, p, g, 0.0, high) if g else None
                if rho:
                    return rho
            return eos.density_scan(t, p, high)
        if kind == LIQUID:
            low = self.on_line(0, t)[1] / m * 0.99
            for g in (guess, self.rho_high):
                rho = eos.density(t, p, g, low) if g else None
                if rho:
                    return rho
            return self.on_line(0, t)[1] / m  # the critical point itself
        rho = eos.density(t, p, guess) if guess else None
        return rho or eos.density_scan(t, p, self.rho_high)

    def state(self, kind, u, v, guess):
        p, t = self.where(kind, u, v)
        m = self.eos.molar_mass
        gas = kind in (VAPOUR, LOW, BESIDE)
        start = None
        if guess is not None:
            start = p / (guess[0] * self.r * t) / m if gas else guess[0] / m
        rho = self.density(self.eos, kind, p, t, start)
        _, h, s = self.eos.at(rho, t)
        if gas:
            return p / (rho * m * self.r * t), h, s + self.r * math.log(p)
        return rho * m, h, s

    def tolerance(self, kind, u, v, value):
        t = self.where(kind, u, v)[1]
        k = 10.0 if abs(t - self.tc) < 2.0 else 1.0
        return 1e-6 * k * value[0], 0.5 * k, 0.002 * k

    def hopeless(self, kind, corners):
        """Whether a patch lies wholly in the box around the critical point that the program
        refuses anyway."""
        t0, t1, p0, p1 = self.refused
        where = [self.where(kind, u, v) for u, v in corners]
        return all(p0 <= p <= p1 and t0 <= t <= t1 for p, t in where)

    def moving(self, kind, u, v, guess):
        p, t = self.where(kind, u, v)
        t = max(t, self.t_moving)
        e = self.transport
        rho = self.density(e, kind, p, t, None)
        e.one.update(CP.DmolarT_INPUTS, rho, t)
        return math.log(e.one.viscosity()), math.log(e.one.conductivity())

    def two_phase(self, u, v):
        """What a blend differs by from the straight line between its ends, over q(1 - q), so
        that the ends are met exactly."""
        z = self.z_mixed[0] + u * (self.z_mixed[1] - self.z_mixed[0])
        p = self.p_ref * math.exp(-z * z)
        q = min(max(v, 2e-3), 1 - 2e-3)
        tb, td = self.t_on_line(0, p), self.t_on_line(1, p)
        _, rb, hb, sb = self.on_line(0, tb)
        _, rd, hd, sd = self.on_line(1, td)
        t, rho, h, s = self.eos.two_phase(p, q)
        off = (t - (1 - q) * tb - q * td, (1 / rho - (1 - q) / rb - q / rd) * rd,
               h - (1 - q) * hb - q * hd, s - (1 - q) * sb - q * sd)
        return [x / (q * (1 - q)) for x in off]

    @staticmethod
    def tolerance_two_phase(v):
        k = 1.0 / max(v * (1 - v), 2e-3)
        volume = 2e-6 / max(1 - v, 2e-3) if v > 2e-3 else 1e-3
        return 4e-5 * k, volume, 0.7 * k, 0.003 * k

    def blocks(self):
        kinds = [VAPOUR, LOW, LIQUID, DENSE] + ([BESIDE] if self.eos.blend else [])
        out = []
        most = {VAPOUR: 500, LOW: 40, LIQUID: 350, DENSE: 1300, BESIDE: 60}
        for kind in kinds:
            b = Block(kind, 3)
            b.fit(lambda u, v, g: self.state(kind, u, v, g),
                  lambda u, v, x: self.tolerance(kind, u, v, x), 30, most[kind],
                  lambda box: self.hopeless(kind, box))
            out.append(b)
        if self.eos.blend:
            out.append(self.mixed())
        if self.transport:
            for kind in kinds:
                b = Block(kind + TRANSPORT, 2)
                b.fit(lambda u, v, g: self.moving(kind, u, v, g),
                      lambda u, v, x: (3e-4, 3e-4), 14, 240,
                      lambda box: self.hopeless(kind, box))
                out.append(b)
        return out

    def mixed(self):
        """The two-phase block, up to the pressure where the flash still converges."""
        for share in (0.98, 0.93, 0.86, 0.8, 0.7):
            p = [share * min(self.p_top), math.exp(self.of_t[0](self.of_t[0].hi)[0])]
            self.z_mixed = [math.sqrt(math.log(self.p_ref / x)) for x in p]
            b = Block(MIXED, 4)
            try:
                b.fit(lambda u, v, g: self.two_phase(u, v),
                      lambda u, v, x: self.tolerance_two_phase(v), 12, 120, lambda box: False)
            except ValueError as e:
                print("    two-phase block shortened:", e, flush=True)
                continue
            return b
        raise ValueError("no two-phase block")

    def header(self):
        eos, key = self.eos, CP.CoolProp.get_BibTeXKey
        rows = [("name", self.name), ("source", f"CoolProp {CP.__version__} HEOS::{eos.source}")]
        parts = []
        for n, x in zip(eos.names, eos.mole_fractions):
            parts.append(f"{n} {x:.9f}")
            rows.append(("equation_of_state", f"{n}: {key(n, 'EOS')}"))
        rows.append(("mole_fractions", ", ".join(parts)))
        if eos.blend:
            rows.append(("mixture_model", "multi-fluid Helmholtz (GERG form) with the departure "
                         "and reducing parameters CoolProp ships for the pairs"))
        if self.transport:
            n = self.transport.names[0]
            rows.append(("viscosity", f"{n}: {key(n, 'VISCOSITY')}"))
            rows.append(("conductivity", f"{n}: {key(n, 'CONDUCTIVITY')}"))
        limit = min(CP.CoolProp.PropsSI("Tmax", n) for n in eos.names)
        rows.append(("equation_valid_to_k", f"{limit}"))
        return "".join(f"{k}={v}\n" for k, v in rows)

    def constants(self):
        h0, s0 = self.on_line(0, 273.15)[2:]
        melt = 0.0
        if self.eos.names == ["CarbonDioxide"]:
            # Span and Wagner's melting line leaves the triple point with this slope, in K/Pa.
            p1 = 6e5
            melt = (self.eos.sat.melting_line(CP.iT, CP.iP, p1) - self.t_triple) / (
                p1 - CP.CoolProp.PropsSI("ptriple", "CarbonDioxide"))
        z = getattr(self, "z_mixed", [0.0, 0.0])
        return [self.r, self.eos.molar_mass, self.tc, self.pc, self.t_ref, self.p_ref,
                self.t_min, self.t_max, self.p_max, self.p_low, self.t_top, self.p_top[0],
                self.p_top[1], self.t_beside, self.p_beside, h0 - 200e3, s0 - 1e3, melt, *z, *self.refused,
                1.0 if self.eos.blend else 0.0, self.t_moving]


def pack(fluid, blocks):
    text = fluid.header().encode()
    text += b"\n" * (-len(text) % 8)
    out = [MAGIC, struct.pack("<I", len(text)), text]
    c = fluid.constants()
    out += [struct.pack("<I", len(c)), np.array(c, "<f8").tobytes()]
    lines = [fluid.of_t[0], fluid.of_t[1], fluid.of_p[0], fluid.of_p[1]]
    for line in lines:
        q = line.data.shape[1]
        out.append(struct.pack("<ddIII", line.lo, line.hi, line.count, q, ORDER_1D))
        out.append(line.data.astype("<f8").tobytes())
    out.append(struct.pack("<I", len(blocks)))
    for b in blocks:
        out.append(struct.pack("<IIIII", b.kind, b.quantities, ORDER, len(b.tree), len(b.leaves)))
        out.append(np.array(b.tree, "<u4").tobytes())
        # Per patch [first axis][quantity][second axis], as they are summed.
        out.append(np.array(b.leaves, "<f4").transpose(0, 3, 1, 2).tobytes())
    return b"".join(out)


def main():
    names = sys.argv[1:] or ["all"]
    for name in list(REFRIGERANTS) if names == ["all"] else names:
        start = time.time()
        print(name, flush=True)
        fluid = Refrigerant(name, **REFRIGERANTS[name])
        blocks = fluid.blocks()
        data = pack(fluid, blocks)
        path = ROOT / "data" / "fluids" / f"{name}.bin"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
        print(f"  {len(data)} bytes, {time.time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()
