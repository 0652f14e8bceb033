"""Loud seconds are left out of levels, bands and spectrum, and stay as evidence."""

from __future__ import annotations

import tracemalloc
from collections.abc import Iterator

import numpy as np
import pytest

from stillroom.core.sound.analysis import Weighting, analyse
from stillroom.core.sound.transients import kept_seconds, limit, transients, unsteadiness

RATE = 48_000


def fan(seconds: float, seed: int = 4) -> np.ndarray:
    return (0.001 * np.random.default_rng(seed).standard_normal(round(RATE * seconds))).astype(np.float32)


def lorry(samples: np.ndarray, start: float, length: float, rms: float = 0.1) -> np.ndarray:
    """The same with a loud stretch, in which a tone of 333 Hz sounds as well."""
    found = samples.copy()
    place = slice(round(RATE * start), round(RATE * (start + length)))
    noise = rms * np.random.default_rng(9).standard_normal(place.stop - place.start)
    found[place] += (noise + rms * np.sin(2 * np.pi * 333.0 * np.arange(len(noise)) / RATE)).astype(
        np.float32
    )
    return found


@pytest.mark.parametrize(("start", "length"), [(12.3, 2.5), (0.0, 0.6), (29.45, 1.0), (5.0, 1.0)])
def test_what_is_left_is_as_if_nobody_had_driven_by(start: float, length: float) -> None:
    quiet = fan(30.45)
    without, found = analyse([quiet], RATE), analyse([lorry(quiet, start, length)], RATE)
    for weighting in Weighting:
        assert found.equivalent[weighting] == pytest.approx(without.equivalent[weighting], abs=0.03)
        assert found.whole[weighting] > without.whole[weighting] + 20.0
    np.testing.assert_allclose(found.bands[13:], without.bands[13:], atol=0.3)
    np.testing.assert_allclose(found.bands[:13], without.bands[:13], atol=1.5)  # few degrees of freedom
    assert found.spectrum[334] < 20.0 * np.median(found.spectrum[200:500])
    (told,) = found.transients
    seconds = np.arange(len(found.seconds))
    touched = (seconds < start + length) & (seconds + 1 > start)
    np.testing.assert_array_equal(found.kept, ~touched)
    assert told.start == seconds[touched][0]
    assert told.length == pytest.approx(min(seconds[touched][-1] + 1, 30.45) - told.start)
    assert 30.0 < told.over < 50.0
    assert found.rejected == pytest.approx(told.length / 30.45)


def test_a_faint_transient_is_left_out_and_a_fainter_one_kept() -> None:
    quiet = fan(20.0)
    level = {}
    for over in (2.0, 4.0):
        samples = quiet.copy()
        samples[5 * RATE : 6 * RATE] *= np.float32(10.0 ** (over / 20.0))
        found = analyse([samples], RATE)
        level[over] = found.kept.sum()
    assert level == {2.0: 20, 4.0: 19}


def test_loud_every_other_second_still_has_a_level() -> None:
    """Where every frame touches a loud second, the quietest of them count."""
    samples = fan(20.0)
    for i in range(0, 18, 2):
        samples[i * RATE : (i + 1) * RATE] *= np.float32(3.0)
    samples = samples[: 18 * RATE]
    found = analyse([np.concatenate([samples[:RATE], samples])], RATE)
    assert np.isfinite(found.equivalent[Weighting.A])
    assert found.equivalent[Weighting.A] <= found.whole[Weighting.A] + 1e-6


def test_evidence_is_grouped() -> None:
    seconds = np.array([30.0, 30.1, 40.0, 41.0, 30.2, 29.9, 35.0])
    lengths = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5])
    kept = kept_seconds(seconds, lengths)
    assert kept.tolist() == [True, True, False, False, True, True, False]
    assert limit(seconds) == pytest.approx(33.2)
    first, second = transients(seconds, lengths, kept)
    assert (first.start, first.length, first.over) == (2.0, 2.0, pytest.approx(10.8))
    assert (second.start, second.length, second.over) == (6.0, 0.5, pytest.approx(4.8))


def test_a_snippet_at_the_end_is_not_judged() -> None:
    assert kept_seconds(np.array([30.0, 30.0, 36.0]), np.array([1.0, 1.0, 0.05])).all()


def test_drift_and_scatter_are_those_of_a_line() -> None:
    rng = np.random.default_rng(0)
    seconds, lengths = 30.0 + 0.1 * np.arange(40) + 0.2 * rng.standard_normal(40), np.ones(40)
    kept = np.ones(40, dtype=np.bool_)
    kept[7], seconds[7] = False, 60.0
    drift, scatter = unsteadiness(seconds, lengths, kept)
    slope, line = np.polyfit(np.arange(40)[kept] + 0.5, seconds[kept], 1)
    rest = seconds[kept] - slope * (np.arange(40)[kept] + 0.5) - line
    assert drift == pytest.approx(40.0 * slope)
    assert scatter == pytest.approx(np.std(rest, ddof=2))
    assert unsteadiness(seconds[:2], lengths[:2], kept[:2]) == (None, None)


def test_memory_does_not_grow_with_the_recording() -> None:
    """All spectra of seven minutes would take 20 MB; the readings of LAF take 0.2 MB."""

    def blocks(count: int) -> Iterator[np.ndarray]:
        rng = np.random.default_rng(1)
        for _ in range(count):
            yield (0.01 * rng.standard_normal(8000 * 10)).astype(np.float32)

    analyse(blocks(1), 8000)
    tracemalloc.start()
    analyse(blocks(40), 8000)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 6e6
