"""ANSI/AMCA 210-07 (ANSI/ASHRAE 51-07): laboratory methods of testing fans, the parts that a chamber needs.

`air`: wet-bulb density, density at a plane, viscosity. `nozzles`: one nozzle. `bank`: flow through several.
`compressibility`: K_p. Limits of validity stand as data (`LIMITS`) beside the formulas.
"""
