"""The airflow measures: what is taken from a fan's curve, with or without something to flow through."""

from __future__ import annotations

from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve
from stillroom.core.multiple import Merit
from stillroom.core.operating import greatest_air_power, shut_off_pressure
from stillroom.core.systems import Load
from stillroom.measures import crossing, loadline
from stillroom.measures.found import Found, Measure, Origin, no_curve, reach_of


def _maximum_pressure(curve: Curve, _load: Load | None, _part: Part, _sources: tuple[str, ...]) -> Found:
    shut = shut_off_pressure(curve.phi, curve.pressure, reach=reach_of(curve))
    values = shut.complete("shut-off pressure")
    return Found(values, values, values, extrapolated=not bool(shut.inside[0]))


def _air_power(curve: Curve, _load: Load | None, _part: Part, _sources: tuple[str, ...]) -> Found:
    power, _ = greatest_air_power(curve.phi, curve.pressure * curve.to_flow, reach=reach_of(curve))
    values = power.complete("greatest air power")
    return Found(values, values, values, extrapolated=not bool(power.inside[0]))


def _static_efficiency(curve: Curve, _load: Load | None, part: Part, sources: tuple[str, ...]) -> Found:
    share = curve.pressure * curve.to_flow / curve.power(part, sources)
    best, _ = greatest_air_power(curve.phi, share, reach=reach_of(curve))
    values = best.complete("best static efficiency")
    return Found(values, values, values, extrapolated=not bool(best.inside[0]))


_AT = "at the stable operating point of greatest flow"
_K = "over load lines Δp = kQ², logarithmically spaced,"

MEASURES: tuple[Measure, ...] = (
    Measure(
        "airflow",
        "Airflow",
        "Volume flow at the fan's inlet at the stable operating point of greatest flow on the obstacle's"
        " resistance, at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        True,
        crossing.at_operating_point(crossing.flow_at),
        "moves the most air",
    ),
    Measure(
        "pressure-at",
        "Pressure at the operating point",
        f"Static pressure {_AT}, at 1.2 kg/m³.",
        1,
        "static_pressure",
        Merit.MORE,
        True,
        crossing.at_operating_point(crossing.pressure_at),
        "builds the most pressure",
    ),
    Measure(
        "speed-at",
        "Speed at the operating point",
        f"Speed {_AT}, as measured at that setting.",
        1,
        "speed",
        Merit.LESS,
        True,
        crossing.at_operating_point(crossing.speed_at),
        "turns slowest",
    ),
    Measure(
        "power-at",
        "Power at the operating point",
        f"Electrical power (volts times amps) of all fans {_AT}, at 1.2 kg/m³.",
        1,
        "power",
        Merit.LESS,
        True,
        crossing.at_operating_point(crossing.power_at),
        "takes the least power",
    ),
    Measure(
        "efficiency-at",
        "Static efficiency at the operating point",
        f"Quotient of static air power and electrical power {_AT}, at 1.2 kg/m³.",
        1,
        "static_efficiency",
        Merit.MORE,
        True,
        crossing.at_operating_point(crossing.efficiency_at),
        "has the best static efficiency",
    ),
    Measure(
        "pressure-to-spare",
        "Pressure to spare",
        "Greatest static pressure on the falling branch of the curve on which the operating point lies, less the"
        " pressure at the operating point: what a clogging filter may add before the fan stalls, at 1.2 kg/m³.",
        1,
        "static_pressure",
        Merit.MORE,
        True,
        crossing.at_operating_point(crossing.spare_at),
        "has the most pressure to spare",
    ),
    Measure(
        "load-line",
        "Load-line mean airflow",
        f"Geometric mean of the volume flow {_K} 21 lines, k from 1e-4 to 3e-2 Pa/(m³/h)², at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        False,
        loadline.load_line_mean(loadline.WHOLE),
        "moves the most air over all load lines",
        crosses=True,
    ),
    Measure(
        "load-line-open",
        "Load-line mean airflow, open third",
        f"Geometric mean of the volume flow {_K} the 7 most open of 21, k from 1e-4 to"
        " 5.5e-4 Pa/(m³/h)², at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        False,
        loadline.load_line_mean(loadline.OPEN),
        "moves the most air over the open load lines",
        crosses=True,
    ),
    Measure(
        "load-line-restrictive",
        "Load-line mean airflow, restrictive third",
        f"Geometric mean of the volume flow {_K} the 7 most restrictive of 21, k from"
        " 5.4e-3 to 3e-2 Pa/(m³/h)², at 1.2 kg/m³.",
        1,
        "flow",
        Merit.MORE,
        False,
        loadline.load_line_mean(loadline.RESTRICTIVE),
        "moves the most air over the restrictive load lines",
        crosses=True,
    ),
    Measure(
        "free-airflow",
        "Free airflow",
        "Volume flow at the fan's inlet where the static pressure is zero (free delivery), at 1.2 kg/m³.",
        2,
        "flow",
        Merit.MORE,
        False,
        crossing.at_free_delivery(crossing.flow_at),
        "moves the most air",
    ),
    Measure(
        "maximum-pressure",
        "Maximum pressure",
        "Fan static pressure where nothing flows (shut-off), at 1.2 kg/m³.",
        1,
        "static_pressure",
        Merit.MORE,
        False,
        _maximum_pressure,
        "builds the most pressure",
    ),
    Measure(
        "air-power",
        "Greatest air power",
        "Greatest product of static pressure and volume flow on the curve, at 1.2 kg/m³.",
        1,
        "air_power",
        Merit.MORE,
        False,
        _air_power,
        "has the greatest air power",
    ),
    Measure(
        "static-efficiency",
        "Best static efficiency",
        "Greatest quotient of static air power and electrical power (volts times amps) on the curve,"
        " at 1.2 kg/m³.",
        1,
        "static_efficiency",
        Merit.MORE,
        False,
        _static_efficiency,
        "has the best static efficiency",
    ),
    Measure(
        "free-speed",
        "Speed at free delivery",
        "Speed where the static pressure is zero (free delivery): what a box prints as the fan's speed.",
        2,
        "speed",
        Merit.MORE,
        False,
        crossing.at_free_delivery(crossing.speed_at),
        "turns fastest in free air",
    ),
    Measure(
        "free-power",
        "Electrical power at free delivery",
        "Electrical power (volts times amps) where the static pressure is zero (free delivery), at 1.2 kg/m³.",
        2,
        "power",
        Merit.LESS,
        False,
        crossing.at_free_delivery(crossing.power_at),
        "takes the least power in free air",
    ),
    Measure(
        "needed-speed",
        "Speed needed for an airflow",
        "Least speed at which the operating point on the obstacle's resistance has a given airflow, at 1.2 kg/m³.",
        1,
        "speed",
        Merit.LESS,
        True,
        no_curve,
        "needs the least speed",
        origin=Origin.NEEDED,
    ),
)
