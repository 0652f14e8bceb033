"""The dimensionless characteristic of a fan: from the reduced points of a mounting to one curve."""

from stillroom.core.characteristic.compare import ScaleDifference, compare_characteristics
from stillroom.core.characteristic.curve import (
    Characteristic,
    Estimate,
    HeldPoint,
    Part,
    SweepCheck,
    collapsed,
    pressure_coefficients,
)
from stillroom.core.characteristic.fit import fit_characteristic
from stillroom.core.characteristic.readings import Readings

__all__ = [
    "Characteristic",
    "Estimate",
    "HeldPoint",
    "Part",
    "Readings",
    "ScaleDifference",
    "SweepCheck",
    "collapsed",
    "compare_characteristics",
    "fit_characteristic",
    "pressure_coefficients",
]
