"""Levels, limits and bands of speed in words; the distance stands beside every dBA."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from stillroom.core.intervals import coverage_interval
from stillroom.core.row_speeds import HEARD_UP_TO
from stillroom.core.sound.folds import Fold
from stillroom.core.sound.limit import LimitSpeed
from stillroom.core.sound.orders import NamedTone, Origin
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.core.standards.iso_532_1_2017.loudness import sone_from_phon
from stillroom.lab.system_words import Plain
from stillroom.measures import Condition

UNTOLD = "an untold distance"


def at_distance(geometry: Geometry) -> str:
    """Where a level holds: "at 0.5 m"."""
    return f"at {UNTOLD if geometry.distance is None else f'{geometry.distance:g} m'}"


SOUND_UNITS = ("dBA", "dB", "sone", "acum")


def unit_at(unit: str, told: Mapping[str, Plain]) -> str:
    """A unit, of sound with the distance at which it holds, as the conditions of an answer tell it."""
    distance = told.get("distance")
    return f"{unit} at {distance}" if distance and unit in SOUND_UNITS else unit


def level_words(level: float, geometry: Geometry) -> str:
    """A level with its distance: "31 dBA at 0.5 m"."""
    return f"{_plain(level)} dBA {at_distance(geometry)}"


def limit_words(condition: Condition, geometry: Geometry | None = None) -> str:
    """The noise limit of a condition: "35 dBA at 0.5 m", "1.5 sone at 0.5 m"; "" where there is none."""
    at = f" {at_distance(geometry)}" if geometry is not None else ""
    if condition.noise is not None:
        return f"{condition.noise:g} dBA{at}"
    return "" if condition.sone is None else f"{condition.sone:g} sone{at}"


def _plain(level: float) -> str:
    """A level to the tenth, without a needless nought."""
    return f"{level:.1f}".removesuffix(".0")


def speed_in_words(speed: float) -> str:
    """A speed [1/s] as people read it: "1,100 rpm"."""
    return f"{speed * 60:,.0f} rpm"


def band_words(band: tuple[float, float]) -> str:
    """A band of speeds [1/s]: "1,100–1,330 rpm"."""
    low, high = band
    return f"{low * 60:,.0f}–{high * 60:,.0f} rpm"


LOCKED = (Origin.BLADE_PASS, Origin.BLADE_PASS_HARMONIC, Origin.SHAFT, Origin.MOTOR)
"""What turns with the rotor."""


def frequency_at(tone: NamedTone, speed: float) -> float:
    """Where a tone lies at a speed [1/s]: its order times it where it turns with the rotor, else as heard [Hz]."""
    return tone.order * speed if tone.origin in LOCKED else tone.tone.frequency


def tone_words(tone: NamedTone, speed: float) -> str:
    """A tone as a fact, without its level: at one place that says little. "has a tone at 222 Hz (blade pass)"."""
    whence = "" if tone.origin is Origin.UNKNOWN else f" ({tone.origin.value})"
    return f"has a tone at {frequency_at(tone, speed):.0f} Hz{whence}"


WIDE_BRACKET = 2.0
"""How far apart the levels measured below and above a limit may lie before it is said [dB]."""

TWO_SPEEDS_FROM = 0.20
"""From which share of trials with two speeds on that is said, where the central curve itself has no fold there [1]."""

SHARE_SAID = 0.05
"""From which share of trials on it is said that a fan may top out, or be too loud [1]."""

TOPS_OUT, TOO_LOUD = "tops out", "can’t run this quiet"


FIRST_OVER = "first over the limit from"
"""How the mark of a fan begins that is under its limit again at a higher speed."""

Shown = Callable[[float], str]
"""A level as it is read, with its distance."""


def shown_level(condition: Condition, geometry: Geometry) -> Shown:
    """How the levels of a limit are read: in dBA, or in sone from phon (ISO 532-1:2017) where the limit is in sone."""
    if condition.sone is None:
        return lambda level: level_words(level, geometry)
    return lambda phon: f"{float(sone_from_phon(phon)):.2g} sone {at_distance(geometry)}"


def limit_marks(
    limit: LimitSpeed, shown: Shown, fixed: int, told: str = "the limit", louder: Sequence[Fold] = ()
) -> Iterable[str]:
    """What must be said beside anything that leans on a noise-limited speed.

    Parameters
    ----------
    shown : how its levels are read. fixed : rows before the trials. told : the limit, such as "35 dBA".
    louder : bands of speed in which the fan is louder than at a higher one.
    """
    if limit.tops_out[0]:
        most = "no more than " if limit.top_is_bound else ""
        yield f"{TOPS_OUT} at {most}{shown(limit.level_at_top)}"
    for band in limit.avoid:
        yield f"above {told}: avoid {band_words(band)}"
    if limit.rules_differ:
        yield f"{FIRST_OVER} {speed_in_words(float(limit.strict[0]))} on"
    elif folded := _within(limit, fixed, louder):
        bands = ", ".join(band_words((each.low, each.high)) for each in folded)
        yield f"two speeds possible: avoid {bands}, louder there than at a higher speed"
    elif limit.ambiguous >= TWO_SPEEDS_FROM:
        yield f"two speeds possible: the rules differ in {100 * limit.ambiguous:.0f} % of the trials"
    if limit.bracket is not None and limit.between is not None and limit.bracket > WIDE_BRACKET:
        between = f"{limit.between[0] * 60:,.0f} and {speed_in_words(limit.between[1])}"
        yield f"one more dwell between {between} would tell more: these lie {limit.bracket:.1f} dB apart"
    if limit.falls_short:
        yield f"{HEARD_UP_TO} {speed_in_words(float(limit.speeds[0]))}"
    elif limit.at_least:
        yield IN_THE_FLOOR
    loud = float(limit.too_loud[fixed:].mean()) if len(limit.too_loud) > fixed else 0.0
    if loud > SHARE_SAID and not limit.bottom_is_bound:
        yield f"may not run this quiet ({100 * loud:.0f} % of the trials)"


def _within(limit: LimitSpeed, fixed: int, louder: Sequence[Fold]) -> list[Fold]:
    """The bands through whose loudest speed the 95 % interval of the limit's speed goes: it may lie on either side."""
    if len(limit.speeds) <= fixed + 1:
        return []
    low, high = coverage_interval(limit.speeds[fixed:])
    return [each for each in louder if low <= each.peak <= high]


IN_THE_FLOOR = "the limit lies in the noise floor"
"""The mark of a fan of which only bounds were measured where it meets the limit."""


def too_loud_words(limit: LimitSpeed, shown: Shown, low: float) -> str:
    """Why a fan has no value at a limit: it is too loud at its lowest speed [1/s], or nobody heard whether it is."""
    if limit.at_least:
        bottom = f"{shown(limit.level_at_bottom)} at its lowest speed measured, {speed_in_words(low)}"
        return f"{IN_THE_FLOOR}: at most {bottom}"
    return f"{TOO_LOUD}: {shown(limit.level_at_bottom)} at its lowest speed measured, {speed_in_words(low)}"
