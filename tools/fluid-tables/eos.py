"""Single-phase and saturation states from CoolProp, solved so that they also work close to the
lines (the phase is imposed and the density is found here, from a good first guess)."""
import math

import CoolProp as CP
import numpy as np
from CoolProp.CoolProp import AbstractState, PyGuessesStructure


class Eos:
    def __init__(self, source):
        self.source = source
        self.sat = AbstractState("HEOS", source)
        self.one = AbstractState("HEOS", source)
        self.one.specify_phase(CP.iphase_gas)
        self.molar_mass = self.sat.molar_mass()
        self.names = self.sat.fluid_names()
        self.blend = len(self.names) > 1
        self.molar_masses = [CP.CoolProp.PropsSI("M", n) for n in self.names]
        self.ends, self.helper = (None, 0.0, 0.0), None
        self.mole_fractions = list(self.sat.get_mole_fractions())
        if self.blend:
            self.trace()
        # The gas constant of a mixture is composition-dependent in CoolProp: take the limit.
        self.one.update(CP.DmolarT_INPUTS, 1e-6, 300.0)
        self.r_mass = self.one.p() / (1e-6 * 300.0) / self.molar_mass

    def at(self, rho_mol, t):
        """p, h, s at molar density and temperature; the phase is not asked for."""
        self.one.update(CP.DmolarT_INPUTS, rho_mol, t)
        return self.one.p(), self.one.hmass(), self.one.smass()

    def density(self, t, p, guess, low=0.0, high=math.inf):
        """Molar density at (t, p) by Newton from `guess`; None unless it lies in [low, high]."""
        rho = guess
        one = self.one
        for _ in range(60):
            if not (0.0 < rho < 1e6):
                return None
            one.update(CP.DmolarT_INPUTS, rho, t)
            slope = one.first_partial_deriv(CP.iP, CP.iDmolar, CP.iT)
            if not slope > 0.0:
                return None
            step = (one.p() - p) / slope
            rho -= step
            if abs(step) < 1e-12 * abs(rho):
                ok = low * (1 - 1e-7) <= rho <= high * (1 + 1e-7)
                return rho if ok else None
        # Newton ends in rounding noise close to the critical point.
        if abs(step) < 1e-8 * abs(rho) and low * (1 - 1e-7) <= rho <= high * (1 + 1e-7):
            return rho
        return None

    def density_scan(self, t, p, high):
        """The only root in (0, high) at (t, p), by bisection: for pressures above the loop."""
        a, b = 1e-6, high
        for _ in range(200):
            m = 0.5 * (a + b)
            self.one.update(CP.DmolarT_INPUTS, m, t)
            if self.one.p() < p:
                a = m
            else:
                b = m
            if b - a < 1e-13 * b:
                break
        return 0.5 * (a + b)

    def trace(self):
        """Blends: the phase envelope. In CoolProp's data the overall phase is `y` and
        `rhomolar_vap`, the first bit of the other phase `x` and `rhomolar_liq`, on both sides."""
        self.sat.build_phase_envelope("dummy")
        e = self.sat.get_phase_envelope_data()
        t, p, q = np.array(e.T), np.array(e.p), np.array(e.Q)
        k = int(t.argmax())
        self.top = float(t[k]), float(p[k])
        rows = np.vstack([np.log(p), e.rhomolar_vap, e.rhomolar_liq, np.array(e.x)])
        self.envelope = []
        for side in (0, 1):
            pick = np.abs(q - side) < 0.5
            order = np.argsort(t[pick])
            self.envelope.append((t[pick][order], rows[:, pick][:, order]))

    def guesses(self, q, t=None, p=None):
        ts, rows = self.envelope[q]
        if t is None:
            t = float(np.interp(math.log(p), rows[0], ts))
        row = [float(np.interp(t, ts, r)) for r in rows]
        g = PyGuessesStructure()
        g.T, g.p = t, p or math.exp(row[0])
        other = row[3:]
        if q:
            g.rhomolar_vap, g.rhomolar_liq = row[1], row[2]
            g.y, g.x = self.mole_fractions, other
        else:
            g.rhomolar_liq, g.rhomolar_vap = row[1], row[2]
            g.x, g.y = self.mole_fractions, other
        return g

    def saturation(self, t, q):
        """p, rho_mol, h, s on the bubble (q 0) or dew (q 1) line. The blind mixture flash fails
        at scattered temperatures: blends start from their envelope."""
        s = self.sat
        if self.blend:
            s.update_with_guesses(CP.QT_INPUTS, q, t, self.guesses(q, t=t))
        else:
            s.update(CP.QT_INPUTS, q, t)
        return s.p(), s.rhomolar(), s.hmass(), s.smass()

    def saturation_p(self, p, q):
        """Temperature on the line at a pressure."""
        if self.blend:
            self.sat.update_with_guesses(CP.PQ_INPUTS, p, q, self.guesses(q, p=p))
        else:
            self.sat.update(CP.PQ_INPUTS, p, q)
        return self.sat.T()

    def two_phase(self, p, quality):
        """T, rho, h, s in the two-phase region by the vapour share of the MASS (CoolProp's own
        quality counts moles). The flash fails, or strays to a false root, at scattered pressures:
        what lies outside the two lines is thrown away, and two close neighbours serve."""
        tb, td = self.saturation_p(p, 0), self.saturation_p(p, 1)
        for d in (0.0, 1e-5, 2e-5, 3e-5, 5e-5, 1e-4, 2e-4):
            try:
                found = [self.wet_once(p * k, quality, tb, td) for k in {1 - d, 1 + d}]
                return [sum(x) / len(found) for x in zip(*found)]
            except ValueError:
                continue
        raise ValueError(f"no two-phase state at {p} Pa, quality {quality}")

    def wet_once(self, p, quality, tb, td):
        s = self.sat
        moles = quality
        for _ in range(6):
            s.update(CP.PQ_INPUTS, p, moles)
            if not self.blend:
                break
            slack = 1e-4 * tb * 2e-2
            if not tb - slack <= s.T() <= td + slack:
                raise ValueError("false root")
            vapour = s.mole_fractions_vapor()
            m = sum(x * w for x, w in zip(vapour, self.molar_masses))
            share = min(max(quality * self.molar_mass / m, 0.0), 1.0)
            if abs(share - moles) < 1e-11:
                break
            moles = share
        rho = s.rhomass()
        if self.blend and not 0.5 < rho / self.lever(p, quality, tb, td) < 2.0:
            raise ValueError("false root")
        return s.T(), rho, s.hmass(), s.smass()

    def lever(self, p, quality, tb, td):
        """Density if the phases kept the compositions of the ends."""
        key = (round(p, 3), tb)
        if self.ends[0] != key:
            t = self.sat.T()
            mm = self.molar_mass
            g = AbstractState("HEOS", self.source) if self.helper is None else self.helper
            self.helper = g
            g.update_with_guesses(CP.QT_INPUTS, 0, tb, self.guesses(0, t=tb))
            bubble = g.rhomolar() * mm
            g.update_with_guesses(CP.QT_INPUTS, 1, td, self.guesses(1, t=td))
            self.ends = (key, bubble, g.rhomolar() * mm)
            assert self.sat.T() == t
        _, bubble, dew = self.ends
        return 1.0 / ((1 - quality) / bubble + quality / dew)
