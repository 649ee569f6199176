//! Service work: the plant as a graph of volumes, hazards, a planner, the refrigerant account.
