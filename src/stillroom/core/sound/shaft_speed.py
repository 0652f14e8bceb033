"""The shaft's speed from a narrow-band spectrum, by the comb of its blade-pass harmonics and its orders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound import comb, mains
from stillroom.core.sound.lines import Lines, find_lines, noise_floor
from stillroom.core.standards.limits import require_positive
from stillroom.errors import NotPossible, OutOfRange

BLADES = range(3, 14)
"""Numbers of blades that are thought of where none is told, or the told one doesn't fit."""

NEAR_WITHIN = 0.03
"""How far `near` may be off [1]."""

OUTSIDE = 0.7
"""What a comb counts for where the told blades put its speed outside of `between`, or away from `near` [1]."""

BY_PULSES = 0.92
"""What a comb counts for whose speed `near` would be at other pulses per revolution [1]."""

LEAST_SCORE = 6.0
"""A comb's least score [dB], in a spectrum with little scatter."""

TRIED = 8
"""So many of the best combs are placed exactly and scored again."""

RIVAL = 1.2
"""The best comb's score over that of the next best at another speed, at least [1]."""

PULSE_RATIOS = (0.5, 1.5, 2.0, 3.0)
"""How `near` may be wrong by pulses per revolution [1]: then it says nothing about the blades."""

CONVINCED = 6.0
"""Another number of blades has to be this much more likely than the told one (as a natural logarithm)."""

DRIFT_SHARE = 0.3
"""How much of the speed's standard deviation during the recording its mean may be off by [1]."""


@dataclass(frozen=True)
class SpeedFromSound:
    """A speed that was heard.

    Parameters
    ----------
    speed, u : the shaft's mean speed during the recording and its standard uncertainty [1/s].
    blades : the number of blades that the comb fits: the told one, unless the sound contradicts it.
    told_blades_fit : False where it does.
    harmonics : harmonics of the blade pass that were used.
    drift : standard deviation of the speed during the recording, over the speed [1].
    score : the comb's score over that of the next best at another speed [1]; inf where there is none.
    """

    speed: float
    u: float
    blades: int
    told_blades_fit: bool
    harmonics: int
    drift: float
    score: float


@dataclass(frozen=True)
class _Heard:
    """A spectrum made ready."""

    power: Array
    floor: Array
    scatter: float
    resolution: float
    lines: Lines
    hum: Array


def speed_from_sound(
    spectrum: Array,
    resolution: float,
    noise_bandwidth: float,
    *,
    blades: int | None,
    between: tuple[float, float],
    near: float | None = None,
) -> SpeedFromSound:
    """The shaft's mean speed during a recording.

    The comb of blade-pass harmonics is looked for on the whole spectrum, its teeth summed in dB above the noise
    beneath: neither a missing fundamental nor a tone that belongs to something else moves it, and harmonics too
    weak to be found alone help. Multiples of the mains frequency are left out. Shaft orders between the blade
    harmonics tell the number of blades.

    Parameters
    ----------
    spectrum : mean square per bin (Hann), shape (B,), bins at 0, 1, 2 … times the resolution.
    resolution : distance of the bins [Hz].
    noise_bandwidth : of the window [1], in bins.
    blades : the fan's number of blades; None where it is not known.
    between : lowest and highest speed that the fan can have [1/s].
    near : about what the speed should be [1/s], within 3 %, from a reading or a setting.

    Returns
    -------
    the speed, its standard uncertainty (wider where the speed drifted), and the blades that fit.

    Raises
    ------
    NotPossible : no comb, one that may as well be another's, or one whose number of blades can't be told.
    OutOfRange : limits of the speed that can't be.
    """
    require_positive("a resolution", resolution, "Hz")
    require_positive("a noise bandwidth", noise_bandwidth)
    low, high = between
    if not 0.0 < low < high:
        raise OutOfRange(
            "limits of the speed", found=f"{low:g} … {high:g} 1/s", expected="rising, above zero"
        )
    heard = _heard(np.asarray(spectrum, dtype=np.float64), resolution)
    found, score = _best_comb(heard, blades, between, near)
    fits, told_fits = _blades_of(heard, found, blades, between, near)
    speed = found.fundamental / fits
    u = float(np.hypot(found.u / fits, DRIFT_SHARE * found.drift * speed))
    return SpeedFromSound(speed, u, fits, told_fits, len(found.harmonics), found.drift, score)


def _heard(power: Array, resolution: float) -> _Heard:
    lines = find_lines(power, resolution, up_to=comb.HIGHEST)
    power = power[: int(1.2 * comb.HIGHEST / resolution) + 64]
    floor, scatter = noise_floor(power, resolution)
    return _Heard(power, floor, scatter, resolution, lines, _hum(lines, resolution))


def _hum(lines: Lines, resolution: float) -> Array:
    """Frequencies of lines that may be hum [Hz]; of all multiples, heard or not, where two lines at least are it."""
    steady = lines.variance < (0.25 * resolution) ** 2
    found: list[Array] = []
    for base in mains.FREQUENCIES:
        multiple = np.maximum(np.rint(lines.frequency / base), 1.0) * base
        off = np.abs(lines.frequency - multiple)
        hum: Array = lines.frequency[steady & (off <= mains.WITHIN * multiple + 2.0 * lines.u)]
        found.append(np.arange(1.0, mains.MULTIPLES + 1.0) * base if len(hum) > 1 else hum)
    return np.concatenate(found)


def _without_hum(heard: _Heard) -> Array:
    """The spectrum above its noise, the multiples of the mains cut out."""
    white: Array = np.asarray(comb.whitened(heard.power, heard.floor), dtype=np.float64)
    for frequency in heard.hum:
        middle = round(float(frequency) / heard.resolution)
        white[max(middle - 3, 0) : middle + 4] = 0.0
    return white


def _best_comb(
    heard: _Heard, blades: int | None, between: tuple[float, float], near: float | None
) -> tuple[comb.Comb, float]:
    """The comb that is the fan's, and its score over the next best; raises where there is none, or two."""
    ranked = _ranked(heard, blades, between, near)
    if not ranked or ranked[0][0] < LEAST_SCORE + 10.0 * heard.scatter:
        also = " (multiples of the mains frequency left out)" if len(heard.hum) else ""
        raise NotPossible(
            "speed from sound",
            found=f"no comb of blade-pass tones above the noise{also}",
            expected="an audible blade pass",
        )
    score, found = ranked[0]
    expected_at = blades * near if blades and near else float("inf")
    if len(found.harmonics) < 2 and abs(found.fundamental / expected_at - 1.0) > NEAR_WITHIN:
        raise NotPossible(
            "speed from sound",
            found=f"a single tone at {found.fundamental:.1f} Hz",
            expected="two harmonics of the blade pass, or the number of blades and a reading that the speed is near",
        )
    multiple = found.fundamental / expected_at
    if (
        1.5 < multiple < 3.5
        and abs(multiple / round(multiple) - 1.0) <= NEAR_WITHIN
        and len(found.harmonics) < 3
    ):
        raise NotPossible(
            "speed from sound",
            found=f"tones at {found.fundamental:.1f} Hz and multiples, {multiple:.1f} times what a reading says",
            expected="three harmonics, to tell a wrong reading from harmonics that are missing",
        )
    if len(ranked) == 1 or ranked[1][0] <= 0.0:
        return found, float("inf")
    ratio = score / ranked[1][0]
    if ratio < RIVAL:
        second = ranked[1][1].fundamental
        raise NotPossible(
            "speed from sound",
            found=f"tones that fit a blade pass of {found.fundamental:.1f} Hz and one of {second:.1f} Hz",
            expected="a comb that stands out, or a reading that the speed is near",
        )
    return found, ratio


def _ranked(
    heard: _Heard, blades: int | None, between: tuple[float, float], near: float | None
) -> list[tuple[float, comb.Comb]]:
    """The best combs with their exact scores, the best first, each at a fundamental of its own."""
    count = (blades, blades) if blades else (BLADES[0], BLADES[-1])
    low, high = min(BLADES[0], count[0]) * between[0], max(BLADES[-1], count[1]) * between[1]
    candidates = comb.grid(low, min(high, comb.HIGHEST / 2.0), heard.resolution)
    threshold = comb.tooth_threshold(heard.scatter)
    white = _without_hum(heard)
    score = comb.scores(white, heard.resolution, candidates, threshold) * _likely(
        candidates, count, between, near
    )
    found: list[tuple[float, comb.Comb]] = []
    for _ in range(TRIED):
        best = int(np.argmax(score))
        if score[best] <= 0.0:
            break
        start = float(candidates[best])
        score[np.abs(candidates - start) <= 2.0 * heard.resolution] = -np.inf
        refined = comb.refined(
            heard.power, heard.floor, heard.scatter, heard.resolution, start, tuple(heard.hum)
        )
        if refined is not None and all(_apart(refined, other, heard.resolution) for _, other in found):
            counts = float(_likely(np.array([refined.fundamental]), count, between, near)[0])
            found.append((counts * comb.exact_score(white, heard.resolution, refined, threshold), refined))
    return sorted(found, key=lambda pair: -pair[0])


def _apart(a: comb.Comb, b: comb.Comb, resolution: float) -> bool:
    """Whether two combs are different ones."""
    return abs(a.fundamental - b.fundamental) > max(0.003 * a.fundamental, 0.3 * resolution)


def _likely(
    candidates: Array, count: tuple[int, int], between: tuple[float, float], near: float | None
) -> Array:
    """What each candidate's score counts for: less outside of what was told, shape (g,)."""
    inside = (candidates >= count[0] * between[0]) & (candidates <= count[1] * between[1])
    weight = np.where(inside, 1.0, OUTSIDE)
    if near is not None:
        numbers = np.arange(count[0], count[1] + 1)[:, None]
        pulses = np.full(candidates.shape, OUTSIDE)
        for ratio in (*PULSE_RATIOS, 1.0):
            close = (np.abs(candidates * ratio / (numbers * near) - 1.0) <= NEAR_WITHIN).any(axis=0)
            pulses[close] = 1.0 if ratio == 1.0 else BY_PULSES
        weight *= pulses
    return weight


def _blades_of(
    heard: _Heard, found: comb.Comb, told: int | None, between: tuple[float, float], near: float | None
) -> tuple[int, bool]:
    """The number of blades, and whether the told one fits."""
    numbers = [
        n
        for n in sorted({*BLADES, *([told] if told else [])})
        if between[0] <= found.fundamental / n <= between[1]
    ]
    if not numbers:
        raise NotPossible(
            "speed from sound",
            found=f"a comb of {found.fundamental:.1f} Hz",
            expected="a blade pass at a speed that the fan can have",
        )
    likely = {n: _likelihood(heard, found, n, near, told) for n in numbers}
    best = max(numbers, key=lambda n: likely[n])
    if told is not None and told in likely:
        contradicted = likely[best] - likely[told] > CONVINCED
        return (best, False) if contradicted else (told, True)
    rivals = [n for n in numbers if n != best and likely[best] - likely[n] < CONVINCED]
    if rivals:
        words = ", ".join(f"{n}" for n in sorted([best, *rivals]))
        raise NotPossible(
            "speed from sound",
            found=f"a blade pass of {found.fundamental:.2f} Hz, which {words} blades would make",
            expected="the number of blades, or a reading that the speed is near",
        )
    return best, told is None


def _likelihood(heard: _Heard, found: comb.Comb, blades: int, near: float | None, told: int | None) -> float:
    """How likely the other lines, and `near`, make a number of blades (a natural logarithm)."""
    speed = found.fundamental / blades
    order = heard.lines.frequency / speed
    u = np.hypot(heard.lines.u, order * found.u / blades) + DRIFT_SHARE * found.drift * heard.lines.frequency
    within = np.minimum((4.0 * u + 0.02 * heard.resolution) / speed, 0.5)
    harmonic = np.abs(order / blades - np.rint(order / blades)) * blades <= within
    supply = np.abs(heard.lines.frequency[:, None] - heard.hum).min(axis=1, initial=np.inf)
    free = ~harmonic & (supply > comb.BESIDE * heard.resolution) & (order > 0.5)
    matched = np.abs(order - np.rint(order)) <= within
    chance = np.minimum(2.0 * within, 1.0)
    share = 0.5
    gain = np.where(matched, np.log(share / chance + 1.0 - share), np.log(1.0 - share * (1.0 - chance)))
    total = float(np.minimum(gain, 4.0)[free].sum())
    return total + (_nearness(speed, near, told, blades) if near is not None else 0.0)


def _nearness(speed: float, near: float, told: int | None, blades: int) -> float:
    """What a reading says about a speed; nothing where pulses per revolution explain the difference."""
    off = abs(near / speed - 1.0)
    if told == blades and any(abs(near / speed / ratio - 1.0) <= 0.01 for ratio in PULSE_RATIOS):
        off = 0.0
    return -0.5 * min((off / (NEAR_WITHIN / 2.0)) ** 2, 20.0)
