"""The order of each tone, frequency over shaft speed, and what the tone comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound import mains
from stillroom.core.sound.tones import Tone
from stillroom.core.standards.limits import require_positive
from stillroom.errors import OutOfRange

Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]

ON_ORDER = 0.02
"""How far a tone may lie off a whole order [1] (0.3 Hz at 900 rpm) …"""

ON_ORDER_SHARE = 0.0015
"""… or off by this share of its order, the larger one [1]: speeds are good to 0.05 %, and drift."""

SAME_FREQUENCY = 0.75
"""Tones of two dwells are of the same frequency within this [Hz] …"""

SAME_FREQUENCY_SHARE = 0.003
"""… or within this share of it, the larger one [1]."""

BY_CHANCE = 0.2
"""Where a whole order would be met by chance this often, one speed alone doesn't tell it [1]: high orders."""

OTHER_SPEED = 0.02
"""Speeds that differ by less than this tell nothing about what is locked to the rotor [1]."""

MOTOR_MULTIPLES = (4, 6)
"""A motor's tones are multiples of its poles or slots, 4 or 6 in fans of this size (common practice)."""


class Origin(Enum):
    """What a tone comes from."""

    BLADE_PASS = "blade pass"
    BLADE_PASS_HARMONIC = "harmonic of blade pass"
    SHAFT = "shaft"
    MOTOR = "motor"
    FIXED = "fixed frequency"
    UNKNOWN = "not known"


@dataclass(frozen=True)
class NamedTone:
    """A tone with its order, frequency over shaft speed [1], and its origin."""

    tone: Tone
    order: float
    origin: Origin


@dataclass(frozen=True)
class Line:
    """One tone followed over several speeds.

    Parameters
    ----------
    origin : what it comes from.
    order : its order where it is locked to the rotor, else None.
    frequency : its frequency [Hz] where that is fixed, else None.
    dwells : the places, in the sequence that was given, of the dwells in which it was found.
    """

    origin: Origin
    order: float | None
    frequency: float | None
    dwells: tuple[int, ...]


@dataclass(frozen=True)
class AcrossSpeeds:
    """The tones of each dwell, named by what they do from speed to speed, and the lines that they form."""

    named: tuple[tuple[NamedTone, ...], ...]
    lines: tuple[Line, ...]


def name_tones(tones: Sequence[Tone], speed: float, blades: int | None) -> tuple[NamedTone, ...]:
    """The order and, as far as one speed can tell, the origin of each tone.

    Parameters
    ----------
    tones : of one dwell.
    speed : the shaft's [1/s].
    blades : the fan's number of blades; None where it is not known: then no whole order is given an origin,
        since each may be the blade pass.

    Returns
    -------
    the tones with their names, in the same order.

    Raises
    ------
    OutOfRange : a speed that is not above zero.
    """
    require_positive("a shaft speed", speed, "1/s")
    return tuple(
        NamedTone(tone, tone.frequency / speed, _origin(tone.frequency, tone.frequency / speed, blades))
        for tone in tones
    )


def _tolerance(order: float) -> float:
    return max(ON_ORDER, ON_ORDER_SHARE * order)


def _origin(frequency: float, order: float, blades: int | None) -> Origin:
    """What one speed tells of a tone."""
    whole = round(order)
    on_order = whole >= 1 and abs(order - whole) <= _tolerance(order)
    if on_order and blades is not None and whole % blades == 0:
        return _of_order(whole, blades)
    if _is_hum(frequency):
        return Origin.FIXED
    if on_order and 2.0 * _tolerance(order) < BY_CHANCE:
        return _of_order(whole, blades)
    return Origin.UNKNOWN


def _of_order(whole: int, blades: int | None) -> Origin:
    """The origin of a whole order."""
    if blades is None:
        return Origin.UNKNOWN
    if whole % blades == 0:
        return Origin.BLADE_PASS if whole == blades else Origin.BLADE_PASS_HARMONIC
    return Origin.MOTOR if any(whole % multiple == 0 for multiple in MOTOR_MULTIPLES) else Origin.SHAFT


def _is_hum(frequency: float) -> bool:
    """Whether a frequency is a low multiple of the mains': it is fixed then, unless it is an order."""
    return any(
        1 <= round(frequency / base) <= mains.MULTIPLES
        and abs(frequency - round(frequency / base) * base) <= mains.WITHIN * frequency
        for base in mains.FREQUENCIES
    )


def across_speeds(
    speeds: Sequence[float], tones: Sequence[Sequence[Tone]], blades: int | None
) -> AcrossSpeeds:
    """The tones of several dwells, named by what they do from speed to speed.

    The same order at several speeds is locked to the rotor, the same frequency at several speeds is fixed; where
    both happen, what happens at more of the speeds. A tone found at one speed only keeps the name that this
    speed gives it.

    Parameters
    ----------
    speeds : the shaft's in each dwell [1/s].
    tones : of each dwell.
    blades : the fan's number of blades, or None.

    Returns
    -------
    the named tones of each dwell, and the lines that go through two dwells or more.

    Raises
    ------
    OutOfRange : not as many speeds as dwells, or a speed that is not above zero.
    """
    if len(speeds) != len(tones):
        raise OutOfRange(
            "dwells", found=f"{len(speeds)} speeds, {len(tones)} sets of tones", expected="as many"
        )
    single = [name_tones(found, speed, blades) for found, speed in zip(tones, speeds, strict=True)]
    flat = [(dwell, each) for dwell, found in enumerate(single) for each in found]
    dwell = np.array([place for place, _ in flat], dtype=np.intp)
    order = np.array([each.order for _, each in flat])
    frequency = np.array([each.tone.frequency for _, each in flat])
    rotor, fixed = _kinds(np.asarray(speeds, dtype=np.float64)[dwell], dwell, order, frequency)

    lines: list[Line] = []
    origins = [each.origin for _, each in flat]
    for members in _groups(order, rotor, ON_ORDER, ON_ORDER_SHARE):
        line = _rotor_line(float(np.median(order[members])), dwell[members], blades)
        lines.append(line)
        for member in members:
            origins[member] = line.origin
    for members in _groups(frequency, fixed, SAME_FREQUENCY, SAME_FREQUENCY_SHARE):
        found_in = tuple(sorted({int(place) for place in dwell[members]}))
        lines.append(Line(Origin.FIXED, None, float(np.median(frequency[members])), found_in))
        for member in members:
            origins[member] = Origin.FIXED
    renamed = [
        NamedTone(each.tone, each.order, origin) for (_, each), origin in zip(flat, origins, strict=True)
    ]
    named = tuple(tuple(renamed[k] for k in np.flatnonzero(dwell == place)) for place in range(len(speeds)))
    return AcrossSpeeds(named, tuple(lines))


def _kinds(speed: Array, dwell: Indices, order: Array, frequency: Array) -> tuple[Flags, Flags]:
    """Which tones are locked to the rotor, and which of a fixed frequency, each of shape (n,).

    Counted is in how many dwells of another speed a tone of the same order, and one of the same frequency, is.
    """
    other = np.abs(speed[:, None] / speed - 1.0) > OTHER_SPEED
    as_order = np.maximum(ON_ORDER, ON_ORDER_SHARE * order)[:, None] + np.maximum(
        ON_ORDER, ON_ORDER_SHARE * order
    )
    same_order = other & (np.abs(order[:, None] - order) <= as_order)
    as_frequency = np.maximum(SAME_FREQUENCY, SAME_FREQUENCY_SHARE * frequency)
    same_frequency = other & (np.abs(frequency[:, None] - frequency) <= as_frequency[:, None])
    of_dwell = dwell[:, None] == np.unique(dwell)
    locked = (same_order.astype(np.intp) @ of_dwell.astype(np.intp) > 0).sum(axis=1)
    steady = (same_frequency.astype(np.intp) @ of_dwell.astype(np.intp) > 0).sum(axis=1)
    return (locked > 0) & (locked >= steady), steady > locked


def _groups(values: Array, chosen: Flags, within: float, share: float) -> list[Indices]:
    """The chosen ones that lie together, by the gaps between them; each a list of at least two places."""
    places = np.flatnonzero(chosen)
    places = places[np.argsort(values[places], kind="stable")]
    gaps = np.diff(values[places])
    cuts = np.flatnonzero(gaps > np.maximum(within, share * values[places][1:])) + 1
    return [group for group in np.split(places, cuts) if len(group) > 1]


def _rotor_line(order: float, dwells: Indices, blades: int | None) -> Line:
    """The line of an order."""
    whole = round(order)
    on_order = whole >= 1 and abs(order - whole) <= _tolerance(order)
    origin = _of_order(whole, blades) if on_order else Origin.UNKNOWN
    return Line(origin, order, None, tuple(sorted({int(place) for place in dwells})))
