"""One measure of one mounting under one condition, with its errors by kind."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import Curve, MeasuredObstacle, MountedFan
from stillroom.core.row_speeds import HEARD_UP_TO, RowSpeeds
from stillroom.core.systems import PUSH_PULL_SOURCE, Load, System, arranged
from stillroom.errors import Contradiction, NotPossible
from stillroom.measures.found import Found, Measure


@dataclass(frozen=True)
class Condition:
    """Under what a measure is taken: full setting, unless something else is given that sets the speed.

    Parameters
    ----------
    speed : a given speed [1/s]. obstacle : what the air goes through, as told by --through, or "".
    duty : a given PWM duty [1]. volts : a given supply voltage [V]. system : how fans and obstacle are arranged.
    noise : a noise limit [dB(A)]. sone : the same as loudness [sone]. for_flow : an airflow that is needed [m³/s].
    for_heat : a temperature rise that is to be held [K]. rig : the heat rig that is meant; "" for the only one.

    Raises
    ------
    Contradiction : two of those that set the speed.
    """

    speed: float | None = None
    obstacle: str = ""
    duty: float | None = None
    volts: float | None = None
    system: System = System()
    noise: float | None = None
    sone: float | None = None
    for_flow: float | None = None
    for_heat: float | None = None
    rig: str = ""

    def __post_init__(self) -> None:
        """Refuse two settings at once."""
        told = {"speed": self.speed, "duty": self.duty, "volts": self.volts, "noise": self.noise,
                "loudness": self.sone, "airflow": self.for_flow, "temperature rise": self.for_heat}  # fmt: skip
        given = [name for name, value in told.items() if value is not None]
        if len(given) > 1:
            raise Contradiction(
                "condition", found=" and ".join(given), expected="one of them, or full setting"
            )

    @property
    def is_limited(self) -> bool:
        """Whether a noise limit sets the speed."""
        return self.noise is not None or self.sone is not None


@dataclass(frozen=True)
class MeasuredValue:
    """A measure's value in one mounting.

    Parameters
    ----------
    value : central value, SI. low, high : ends of a range where one value would be a lie, else `value`.
    shared, noise : trials of the shared part about the value, and of the mounting's own part, (M,).
    low_shift, high_shift : trials of the ends less those of the value, (M,); zero where it is unique.
    loadings : {source: change of the value by one standard deviation of it}.
    unique, marks : what must be said beside it.
    """

    value: float
    low: float
    high: float
    shared: Array
    noise: Array
    low_shift: Array
    high_shift: Array
    loadings: dict[str, float]
    unique: bool
    marks: tuple[str, ...]


def load_in(load: Load | MeasuredObstacle | None, system: System) -> Load | None:
    """What the air goes through, in a system's air and area; for a measure without obstacle the area alone."""
    if isinstance(load, Load):
        return replace(load, tiles=system.tiles, air=system.air)
    return Load(((load,),) if load else (), system.tiles, system.air)


def curve_in(
    fan: MountedFan,
    condition: Condition,
    part: Part,
    sources: tuple[str, ...],
    speeds: RowSpeeds | None = None,
) -> Curve:
    """The curve of all fans of a condition's system, at its setting and in its air.

    Parameters
    ----------
    speeds : one of its own in each row, where a noise limit sets the speed.

    Raises
    ------
    NotPossible : the setting lies outside those tested.
    """
    system = condition.system
    if condition.is_limited and speeds is None:
        raise NotPossible("speed at a noise limit", found="no speed for it", expected="the fan's limit")
    one = fan.curve(
        condition.speed if speeds is None else speeds,
        part,
        sources,
        duty=condition.duty,
        volts=condition.volts,
        air=system.air,
    )
    return arranged(one, system, part, sources)


def sources_of(
    fan: MountedFan, load: Load | None, system: System, speeds: RowSpeeds | None = None
) -> tuple[str, ...]:
    """The shared sources of a fan on a load, and of its speeds, each once."""
    stated = (PUSH_PULL_SOURCE,) if system.push_pull_u > 0.0 else ()
    around = (*(load.sources if load else ()), *stated, *(speeds.sources if speeds else ()))
    return tuple(dict.fromkeys((*fan.characteristic.sources, *around)))


def evaluate(
    measure: Measure,
    fan: MountedFan,
    obstacle: Load | MeasuredObstacle | None,
    condition: Condition,
    speeds: RowSpeeds | None = None,
) -> MeasuredValue:
    """Take a measure from a mounted fan.

    Parameters
    ----------
    measure : what is taken. fan : from which mounting.
    obstacle : what the air goes through, None for a measure that needs nothing. condition : under what.
    speeds : at which it turns in each row, where a noise limit sets them; their trials are shared by all mountings.

    Raises
    ------
    NotPossible : the fan's curves don't hold it (a setting outside those tested, no volts and amps, no root).
    """
    load = load_in(obstacle, condition.system)
    sources = sources_of(fan, load, condition.system, speeds)
    curves = {part: curve_in(fan, condition, part, sources, speeds) for part in (Part.TOTAL, Part.SHARED)}
    total, shared = (measure.take(curve, load, part, sources) for part, curve in curves.items())
    said = (
        *setting_marks(fan, condition, speeds),
        *system_marks(condition.system),
        *reynolds_marks(curves[Part.TOTAL]),
        *_full_marks(curves[Part.TOTAL], speeds),
    )
    return valued(total, shared, sources, said)


def valued(total: Found, shared: Found, sources: tuple[str, ...], marks: tuple[str, ...]) -> MeasuredValue:
    """A value from what was found in the rows of all errors and in those of the shared ones.

    Parameters
    ----------
    total, shared : (1 + k + M,) rows each. sources : the k shared sources. marks : beside those of `total`.
    """
    k = len(sources)
    value = float(total.values[0])
    return MeasuredValue(
        value=value,
        low=float(total.lowest[0]),
        high=float(total.highest[0]),
        shared=shared.values[1 + k :],
        noise=total.values[1 + k :] - shared.values[1 + k :],
        low_shift=total.lowest[1 + k :] - total.values[1 + k :],
        high_shift=total.highest[1 + k :] - total.values[1 + k :],
        loadings={name: float(total.values[1 + i]) - value for i, name in enumerate(sources)},
        unique=total.unique,
        marks=(*_marks(total), *total.marks, *marks),
    )


def _marks(found: Found) -> tuple[str, ...]:
    words = {
        "not unique": not found.unique,
        "sweeps up and down differ": found.hysteresis,
        "extrapolated": found.extrapolated,
        "on a rising branch": found.rising,
    }
    return tuple(word for word, applies in words.items() if applies)


REYNOLDS_SLACK = 0.1
"""A Reynolds number this far beyond those tested still counts as tested [1] (our choice)."""


def reynolds_marks(curve: Curve) -> tuple[str, ...]:
    """What thin or warm air does: a Reynolds number under those of the readings."""
    low = curve.fan.characteristic.reynolds_reach[0]
    return ("below the Reynolds numbers tested",) if curve.reynolds < low * (1.0 - REYNOLDS_SLACK) else ()


FULL_MARK = "at full setting: its speed behind the obstacle lies under the limit’s"
"""The mark of a fan that is slower at its operating point than the noise limit would allow."""


def _full_marks(curve: Curve, speeds: RowSpeeds | None) -> tuple[str, ...]:
    """What is said where full setting, or the greatest speed heard, not the limit, holds the central row's speed."""
    if speeds is not None and speeds.full[0] and curve.fan.is_heard_short(speeds):
        return (f"{HEARD_UP_TO} {speeds.central * 60:,.0f} rpm",)
    if speeds is None or speeds.full[0] or curve.speed[0].max() >= speeds.central * (1.0 - SAME):
        return ()
    return (FULL_MARK,)


SAME = 1e-6
"""How far two speeds may differ and still be the same [1]."""


def setting_marks(fan: MountedFan, condition: Condition, speeds: RowSpeeds | None = None) -> tuple[str, ...]:
    """What must be said of the speed: between which settings it was interpolated, or beyond which it lies."""
    words = fan.row_words(speeds) if speeds else fan.setting_words(condition.duty, condition.volts)
    return (words,) if words else ()


def system_marks(system: System) -> tuple[str, ...]:
    """What was modelled, not measured, because one fan and one piece stand for a system."""
    words: list[str] = []
    if system.beside > 1:
        words.append(f"modelled for {system.beside} fans side by side")
    if system.tiles != 1.0:
        words.append(f"modelled for {system.tiles:.4g} tiles of the obstacle")
    if system.push_pull is not None:
        limits = f" ± {system.push_pull_limits:g}" if system.push_pull_u else ""
        words.append(f"push–pull factor {system.push_pull:g}{limits} stated")
    if system.altitude is not None or system.temperature is not None:
        words.append(f"modelled for ρ = {system.air.density:.3g} kg/m³")
    return tuple(words)
