"""The measures of heat: what is taken from a fan's temperature rise against speed on a heat rig."""

from __future__ import annotations

from stillroom.core.multiple import Merit
from stillroom.measures.found import Measure, Origin, no_curve

HEAT, CONDUCTANCE, HEAT_POWER = "heat", "conductance", "heat-power"

_AT = "on the rig's radiator"

MEASURES: tuple[Measure, ...] = (
    Measure(
        HEAT,
        "Temperature rise",
        f"Steady temperature of the liquid at the hot probe less that of the air going in, {_AT} at nominal power.",
        1,
        "temperature_difference",
        Merit.LESS,
        False,
        no_curve,
        "cools best",
        absolute=True,
        origin=Origin.HEAT,
    ),
    Measure(
        CONDUCTANCE,
        "Thermal conductance",
        f"Nominal power over the steady temperature rise over the air going in, {_AT}.",
        1,
        "conductance",
        Merit.MORE,
        False,
        no_curve,
        "carries the most heat",
        origin=Origin.HEAT,
    ),
    Measure(
        HEAT_POWER,
        "Power of the fans on the radiator",
        f"Electrical power (volts times amps) of all fans that blow {_AT}, at the lab's own density.",
        1,
        "power",
        Merit.LESS,
        False,
        no_curve,
        "takes the least power on the radiator",
        origin=Origin.HEAT,
    ),
)
