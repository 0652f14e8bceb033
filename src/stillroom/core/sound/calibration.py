"""The scale of a recording from recordings of a sound calibrator, before and after.

What is no calibrator (another frequency, not steady, other sound in it, another gain) is refused with the
reason: a wrong scale would move every level of a session alike and be seen nowhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import BadInput, Contradiction, NotPossible

FREQUENCY = 1000.0
"""Frequency of the tone [Hz] (IEC 60942, from memory)."""

FREQUENCY_WITHIN = 0.03
"""How far the tone's frequency may be off [1]: wider than the calibrator's own 1 %, as clocks of sound cards
and short recordings add to it (common practice)."""

OTHERS_BELOW = -20.0
"""Level of all other sound, relative to the tone, up to which it is a calibrator's [dB] (common practice)."""

STEADY_WITHIN = 0.25
"""How far a steady second may lie from the median of the seconds [dB] (common practice)."""

STEADY_SHARE = 0.5
STEADY_SECONDS = 3.0
"""Share and number of seconds that must be steady; the others (switching on, taking off) are left out."""

TOLERANCE = 0.25
U_MAXIMUM = 0.15
"""Class 1 at 1 kHz: acceptance limit of the level, and greatest expanded uncertainty of its test [dB]
(IEC 60942:2017, from memory)."""

SEATING = 0.05
"""Standard uncertainty of one reading: seating of the calibrator, static pressure [dB] (common practice)."""

UNKNOWN_DRIFT = 0.15
"""Standard uncertainty of a scale that was checked on one side of a session only [dB] (common practice)."""

LARGEST_DRIFT = 3.0
"""A difference that no microphone drifts by: another gain, or a calibrator not pressed home [dB]."""

GAIN_STEP = 10.0
GAIN_WITHIN = 0.7
"""Gain switches and the two levels of a calibrator lie whole tens of dB apart; how well that must fit [dB]."""

NOMINAL = (94.0, 114.0)
"""Levels of sound calibrators in use [dB re 20 µPa]."""

_AROUND = 0.03  # half-width of the range of frequencies that counts as the tone, relative
_FEWEST_BINS = 4


@dataclass(frozen=True)
class CalibratorReading:
    """One recording of a calibrator.

    Parameters
    ----------
    level : of its tone [dB re full scale].
    frequency : of its tone [Hz].
    others : level of all other sound, relative to the tone [dB].
    steady : share of its seconds within 0.25 dB of their median [1].
    seconds : how many seconds are steady [s].
    clipped : samples at full scale.
    name : run or file, for messages.
    """

    level: float
    frequency: float
    others: float
    steady: float
    seconds: float
    clipped: int = 0
    name: str = ""

    @property
    def fault(self) -> tuple[str, str] | None:
        """Why this is no calibrator's recording, as (found, expected); None where it is one."""
        off = abs(self.frequency / FREQUENCY - 1.0)
        tests = (
            (self.clipped > 0, f"{self.clipped} samples at full scale", "a gain at which it doesn't clip"),
            (
                off > FREQUENCY_WITHIN,
                f"its strongest tone at {self.frequency:.0f} Hz",
                "a calibrator's 1,000 Hz: no calibrator, or a wrong sampling rate in the file",
            ),
            (
                not self.others <= OTHERS_BELOW,
                f"other sound only {-self.others:.0f} dB below the tone",
                f"{-OTHERS_BELOW:.0f} dB or more: a calibrator pressed home on the microphone",
            ),
            (
                self.steady < STEADY_SHARE or self.seconds < STEADY_SECONDS,
                f"{self.seconds:.0f} steady seconds, {self.steady:.0%} of the recording",
                f"{STEADY_SECONDS:.0f} s or more, and half of the recording, within ± {STEADY_WITHIN} dB",
            ),
        )
        return next(((found, expected) for wrong, found, expected in tests if wrong), None)


@dataclass(frozen=True)
class Calibrated:
    """The scale: level [dB re 20 µPa] = level [dB re full scale] + offset.

    Parameters
    ----------
    offset : mean of before and after, where both were recorded [dB].
    before, after : each alone; None where it was not recorded [dB].
    drift : after less before; None where one is missing [dB].
    u : standard uncertainty of the offset, root of the squares of the two that follow [dB].
    u_calibrator : of the calibrator's level: shared by all that it ever calibrates [dB].
    u_reading : of this session's readings and of the drift in between [dB].
    nominal : level of the calibrator [dB re 20 µPa].
    frequency : of its tone, mean of the recordings [Hz].
    """

    offset: float
    before: float | None
    after: float | None
    drift: float | None
    u: float
    u_calibrator: float
    u_reading: float
    nominal: float
    frequency: float


def read_calibrator(
    spectrum: Array, resolution: float, seconds: Array, *, clipped: int = 0, name: str = ""
) -> CalibratorReading:
    """What a recording that should be a calibrator's holds.

    The level is the energy mean of the steady seconds, less the energy of all other sound: what was
    recorded before it was switched on and after it was taken off doesn't count.

    Parameters
    ----------
    spectrum : mean square per bin, on any scale, (B,).
    resolution : of its bins [Hz].
    seconds : A-weighted levels of its seconds re full scale, (n,) [dB]; A-weighting is 0 dB at 1 kHz.
    clipped : samples at full scale.
    name : run or file, for messages.

    Returns
    -------
    CalibratorReading, fit for use or not: `calibrate` refuses by its `fault`.

    Raises
    ------
    NotPossible : silence, or nothing recorded.
    """
    power = np.asarray(spectrum, dtype=np.float64)[1:]  # without the constant part
    seconds = np.asarray(seconds, dtype=np.float64)
    sounding = seconds[np.isfinite(seconds)]
    total = float(power.sum())
    if not (total > 0.0 and sounding.size):
        raise NotPossible("recording of a calibrator", place=name, found="silence", expected="its tone")
    strongest = int(np.argmax(power))
    half = max(_FEWEST_BINS, round(_AROUND * (strongest + 1)))
    near = slice(max(0, strongest - half), strongest + half + 1)
    tone = float(power[near].sum())
    frequency = resolution * float(np.average(np.arange(power.size)[near] + 1.0, weights=power[near]))
    rest = max(total - tone, 1e-15 * total)
    middle = np.sort(sounding)[(sounding.size - 1) // 2]  # one of them, also where their number is even
    steady = sounding[np.abs(sounding - middle) <= STEADY_WITHIN]
    mean = 10.0 * math.log10(float(np.mean(10.0 ** (0.1 * steady))))
    level = mean + 10.0 * math.log10(tone / total)
    others = 10.0 * math.log10(rest / tone)
    return CalibratorReading(
        level, frequency, others, steady.size / seconds.size, float(steady.size), clipped, name
    )


def calibrate(
    before: Sequence[CalibratorReading],
    after: Sequence[CalibratorReading],
    nominal: float,
    *,
    earlier: float | None = None,
    u_calibrator: float | None = None,
) -> Calibrated:
    """The scale of a session from recordings of a calibrator.

    Parameters
    ----------
    before, after : readings before and after the session; one side may be missing, and a side may have several.
    nominal : level of the calibrator [dB re 20 µPa], 94 or 114.
    earlier : offset known from an earlier session of this microphone at this gain [dB].
    u_calibrator : standard uncertainty of the calibrator's level, from its certificate [dB]; None: class 1.

    Returns
    -------
    Calibrated. A drift over 0.5 dB is told, not refused: a rule judges it.

    Raises
    ------
    BadInput : no reading, or a nominal level that no calibrator has.
    NotPossible : a reading that is no calibrator's.
    Contradiction : readings at another gain than each other, or than `earlier`.

    Source: calibration before and after, ISO 3744 and ISO 7779 (from memory); class 1, IEC 60942 (from memory).
    """
    if nominal not in NOMINAL:
        raise BadInput(
            "level of the calibrator",
            found=f"{nominal:g} dB",
            expected=" or ".join(f"{n:g}" for n in NOMINAL),
        )
    readings = [*before, *after]
    if not readings:
        raise BadInput("recordings of a calibrator", found="none", expected="one before or after, or both")
    for each in readings:
        if fault := each.fault:
            raise NotPossible("recording of a calibrator", place=each.name, found=fault[0], expected=fault[1])
        _same_gain(each, readings[0].level, "the first recording of the calibrator")
        if earlier is not None:
            _same_gain(each, nominal - earlier, "an earlier session of this microphone")
    first, last = _offset(before, nominal), _offset(after, nominal)
    known = [each for each in (first, last) if each is not None]
    drift = last - first if first is not None and last is not None else None
    seating = SEATING * math.sqrt(sum(1.0 / len(side) for side in (before, after) if side)) / len(known)
    moving = UNKNOWN_DRIFT if drift is None else abs(drift) / 2.0 / math.sqrt(3.0)
    own = math.hypot(seating, moving)
    shared = class_1_uncertainty() if u_calibrator is None else u_calibrator
    return Calibrated(
        offset=math.fsum(known) / len(known),
        before=first,
        after=last,
        drift=drift,
        u=math.hypot(shared, own),
        u_calibrator=shared,
        u_reading=own,
        nominal=nominal,
        frequency=math.fsum(each.frequency for each in readings) / len(readings),
    )


def class_1_uncertainty() -> float:
    """Standard uncertainty of the level of a class 1 calibrator without its own certificate [dB].

    The acceptance limit as a rectangular distribution, with the uncertainty of its test (k = 2).

    Source: IEC 60942:2017, class 1, 1 kHz (from memory).
    """
    return math.hypot(TOLERANCE / math.sqrt(3.0), U_MAXIMUM / 2.0)


def _offset(side: Sequence[CalibratorReading], nominal: float) -> float | None:
    return nominal - math.fsum(each.level for each in side) / len(side) if side else None


def _same_gain(reading: CalibratorReading, level: float, whose: str) -> None:
    """Refuse a reading that lies further from a level than any microphone drifts."""
    difference = reading.level - level
    if abs(difference) <= LARGEST_DRIFT:
        return
    steps = round(difference / GAIN_STEP)
    at_gain = steps != 0 and abs(difference - steps * GAIN_STEP) <= GAIN_WITHIN
    raise Contradiction(
        "recording of a calibrator",
        place=reading.name,
        found=f"{abs(difference):.1f} dB {'above' if difference > 0 else 'below'} {whose}: "
        + (
            "at another gain, or with the calibrator at its other level"
            if at_gain
            else "another gain, or a calibrator not pressed home"
        ),
        expected=f"within {LARGEST_DRIFT:g} dB",
    )
