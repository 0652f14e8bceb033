"""Each quantity and each unit once, for the whole house.

Readers translate into these names; charts and tables take labels and units from them. Inside Stillroom a
number is always in the SI unit given here; other units exist only at the doors.
"""

from __future__ import annotations

from stillroom.vocabulary.quantities import (
    AIR_PROBES,
    BY_NAME,
    QUANTITIES,
    Quantity,
    air_probe,
    plain,
    quantity_for,
    shown_unit,
)
from stillroom.vocabulary.units import CUBIC_FOOT, MMH2O, UNITS, Unit, from_si, is_unit, to_si, unit

__all__ = [
    "AIR_PROBES",
    "BY_NAME",
    "CUBIC_FOOT",
    "MMH2O",
    "QUANTITIES",
    "UNITS",
    "Quantity",
    "Unit",
    "air_probe",
    "from_si",
    "is_unit",
    "plain",
    "quantity_for",
    "shown_unit",
    "to_si",
    "unit",
]
