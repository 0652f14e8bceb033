"""Calibrator recordings make the scale; what is no calibrator's is refused with the reason."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from stillroom.core.arrays import Array
from stillroom.core.sound.calibration import (
    Calibrated,
    CalibratorReading,
    calibrate,
    class_1_uncertainty,
    read_calibrator,
)
from stillroom.errors import BadInput, Contradiction, NotPossible, StillroomError

RATE = 8192


def analysed(signal: Array, *, name: str = "", clipped: int = 0) -> CalibratorReading:
    """Spectrum (Hann, 1 Hz) and levels of seconds as an analysis gives them, made here by hand."""
    blocks = signal[: len(signal) // RATE * RATE].reshape(-1, RATE)
    window = np.hanning(RATE + 1)[:-1]
    spectrum = (np.abs(np.fft.rfft(blocks * window, axis=1)) ** 2).mean(axis=0)
    with np.errstate(divide="ignore"):
        seconds = 10 * np.log10((blocks**2).mean(axis=1))
    return read_calibrator(spectrum, 1.0, seconds, clipped=clipped, name=name)


def tone(level: float, *, f: float = 1000.0, seconds: int = 10, noise: float = -90.0) -> Array:
    """A tone of a level [dB re full scale] in white noise."""
    t = np.arange(seconds * RATE) / RATE
    hiss = 10 ** (noise / 20) * np.random.default_rng(1).standard_normal(t.size)
    return np.sqrt(2.0) * 10 ** (level / 20) * np.sin(2 * np.pi * f * t + 0.3) + hiss


def reading(level: float = -26.0, *, name: str = "cal.wav") -> CalibratorReading:
    return CalibratorReading(level, 1000.0, -60.0, 1.0, 10.0, 0, name)


def test_a_tone_is_read_as_it_was_made() -> None:
    found = analysed(tone(-26.0, f=1001.3))
    assert found.level == pytest.approx(-26.0, abs=0.002)
    assert found.frequency == pytest.approx(1001.3, abs=0.05)
    assert found.others < -45.0
    assert found.fault is None


def test_other_sound_is_not_counted_as_the_tone() -> None:
    hiss = -48.0  # 22 dB under the tone
    found = analysed(tone(-26.0, noise=hiss, seconds=20))
    assert found.level == pytest.approx(-26.0, abs=0.02)
    assert -23.0 < found.others < -21.0
    assert found.fault is None


def test_switching_on_and_taking_off_do_not_count() -> None:
    quiet = 1e-4 * np.random.default_rng(2).standard_normal(3 * RATE)
    found = analysed(np.concatenate([quiet, tone(-26.0, seconds=9), quiet]))
    assert found.level == pytest.approx(-26.0, abs=0.01)
    assert found.fault is None


def faded() -> Array:
    return tone(-26.0, seconds=12) * np.linspace(1.0, 0.3, 12 * RATE)


@pytest.mark.parametrize(
    ("signal", "words"),
    [
        (lambda: tone(-26.0, f=250.0), "250 Hz"),
        (lambda: tone(-26.0, f=918.75), "wrong sampling rate"),  # 44.1 kHz labelled as 48 kHz … and back
        (lambda: tone(-26.0, noise=-40.0), "other sound only"),
        (lambda: 0.1 * np.random.default_rng(3).standard_normal(10 * RATE), "."),
        (faded, "steady seconds"),
        (lambda: tone(-26.0, seconds=2), "2 steady seconds"),
    ],
)
def test_what_is_no_calibrator_is_refused_with_why(signal: Callable[[], Array], words: str) -> None:
    found = analysed(signal(), name="monday.wav")
    with pytest.raises(NotPossible, match=words) as refused:
        calibrate([found], [], 94.0)
    assert "monday.wav" in str(refused.value)


def test_clipping_and_silence_are_refused() -> None:
    with pytest.raises(NotPossible, match="3 samples at full scale"):
        calibrate([analysed(tone(-6.0), clipped=3)], [], 94.0)
    with pytest.raises(NotPossible, match="silence"):
        analysed(np.zeros(5 * RATE))


def test_scale_and_drift() -> None:
    found = calibrate([reading(-26.0)], [reading(-26.3)], 94.0)
    assert found.before == pytest.approx(120.0)
    assert found.after == pytest.approx(120.3)
    assert found.drift == pytest.approx(0.3)
    assert found.offset == pytest.approx(120.15)
    assert calibrate([reading(-6.0)], [], 114.0).offset == pytest.approx(120.0)


def test_a_drift_over_half_a_decibel_is_told_not_refused() -> None:
    found = calibrate([reading(-26.0)], [reading(-26.8)], 94.0)
    assert found.drift == pytest.approx(0.8)
    assert found.u_reading > 0.8 / 2 / math.sqrt(3)


def test_several_readings_of_a_side_are_averaged() -> None:
    found = calibrate([reading(-26.0), reading(-26.2)], [reading(-26.1)], 94.0)
    assert found.before == pytest.approx(120.1)
    assert found.drift == pytest.approx(0.0)
    one = calibrate([reading(-26.1)], [reading(-26.1)], 94.0)
    assert found.u_reading < one.u_reading


def test_uncertainties_by_hand() -> None:
    """Class 1: 0.25 dB as a rectangle with 0.15 dB at k = 2 (IEC 60942:2017, from memory)."""
    assert class_1_uncertainty() == pytest.approx(math.sqrt(0.25**2 / 3 + 0.075**2))
    both = calibrate([reading()], [reading()], 94.0)
    assert both.u_calibrator == class_1_uncertainty()
    assert both.u_reading == pytest.approx(0.05 / math.sqrt(2))
    assert both.u == pytest.approx(math.hypot(both.u_calibrator, both.u_reading))
    one_side = calibrate([reading()], [], 94.0)
    assert one_side.u_reading == pytest.approx(math.hypot(0.05, 0.15))
    assert one_side.drift is None
    assert one_side.offset == one_side.before
    certificate = calibrate([reading()], [reading()], 94.0, u_calibrator=0.05)
    assert certificate.u_calibrator == 0.05


def again(level: float, earlier: float | None = None) -> Calibrated:
    after = [] if earlier is not None else [reading(level, name="after.wav")]
    before = [reading(level, name="after.wav")] if earlier is not None else [reading(-26.0)]
    return calibrate(before, after, 94.0, earlier=earlier)


@pytest.mark.parametrize("step", [-20.0, -10.0, 10.2, 20.0, 30.4])
def test_another_gain_is_named(step: float) -> None:
    with pytest.raises(Contradiction, match="at another gain") as refused:
        again(-26.0 + step)
    assert "after.wav" in str(refused.value)
    with pytest.raises(Contradiction, match=r"earlier session.*at another gain"):
        again(-26.0 + step, earlier=120.0)


def test_a_difference_that_no_microphone_drifts_by_is_refused_too() -> None:
    with pytest.raises(Contradiction, match="not pressed home"):
        again(-32.0)
    assert again(-27.9).drift == pytest.approx(1.9)
    assert again(-27.9, earlier=120.0).offset == pytest.approx(121.9)


@pytest.mark.parametrize("nominal", [0.0, 93.0, 104.0, float("nan")])
def test_a_level_that_no_calibrator_has(nominal: float) -> None:
    with pytest.raises(BadInput, match="94 or 114"):
        calibrate([reading()], [], nominal)


def test_nothing_recorded() -> None:
    with pytest.raises(StillroomError, match="found none"):
        calibrate([], [], 94.0)
