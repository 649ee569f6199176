#!/usr/bin/env python3
"""Check values for water, ice and moist air from the `iapws` and `psychrolib` packages.

    outside.py FOLDER      writes water.csv and air.csv
"""
import pathlib
import random
import sys

import iapws
import psychrolib as psy

SEED = 20260105


def main():
    folder = pathlib.Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    out = ["# iapws package: kind, T in K, p in Pa"]
    for i in range(60):
        t = 273.16 + i * 6.0
        out.append(f"water,{t!r},{float(iapws.iapws97._PSat_T(t)) * 1e6!r}")
    for i in range(60):
        t = 200.0 + i * 1.23
        out.append(f"ice,{t!r},{float(iapws._iapws._Sublimation_Pressure(t)) * 1e6!r}")
    (folder / "water.csv").write_text("\n".join(out) + "\n")

    psy.SetUnitSystem(psy.SI)
    dice = random.Random(SEED)
    out = ["# psychrolib (SI): t C, rh %, p kPa, W, h kJ/kg, v m3/kg, dew C, wet bulb C, psat kPa"]
    for _ in range(200):
        t, rh, p = dice.uniform(-40, 60), dice.uniform(1, 100), dice.uniform(95, 105)
        w = psy.GetHumRatioFromRelHum(t, rh / 100, p * 1e3)
        out.append(",".join(repr(x) for x in (
            t, rh, p, w, psy.GetMoistAirEnthalpy(t, w) / 1e3, psy.GetMoistAirVolume(t, w, p * 1e3),
            psy.GetTDewPointFromRelHum(t, rh / 100),
            psy.GetTWetBulbFromRelHum(t, rh / 100, p * 1e3), psy.GetSatVapPres(t) / 1e3)))
    (folder / "air.csv").write_text("\n".join(out) + "\n")


if __name__ == "__main__":
    main()
