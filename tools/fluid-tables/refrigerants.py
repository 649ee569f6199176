"""The refrigerants that tables are made for: one line each.

source    CoolProp's name; `.mix` is its predefined mixture (mole fractions go into the header)
transport CoolProp's pure or pseudo-pure fluid that viscosity and conductivity are taken from, or
          None: CoolProp's own rule for mixtures is a mole-weighted guess that nobody has checked,
          so blends without a pseudo-pure model have no transport data
p_max_mpa upper end of the pressure range
"""

REFRIGERANTS = {
    "R134a": dict(source="R134a", transport="R134a", p_max_mpa=8.0),
    "R404A": dict(source="R404A.mix", transport="R404A", p_max_mpa=7.5),
    "R452A": dict(source="R452A.mix", transport=None, p_max_mpa=7.5),
    "R513A": dict(source="R513A.mix", transport=None, p_max_mpa=7.5),
    "R744": dict(source="CarbonDioxide", transport="CarbonDioxide", p_max_mpa=16.0),
    "R290": dict(source="n-Propane", transport="n-Propane", p_max_mpa=8.0),
    "R1234yf": dict(source="R1234yf", transport="R1234yf", p_max_mpa=7.0),
    "R23": dict(source="R23", transport="R23", p_max_mpa=10.0),
}

# Coldest saturation and liquid temperature of every table, in C (or the triple point, if higher).
COLDEST_C = -100.0
# Warmest vapour, in C.
WARMEST_C = 155.0
