"""Whether what was synthesised is found again in the recordings: levels, speeds, tones."""

from __future__ import annotations

import pytest
from heard import criterion, of_what, recorded, tone_to_noise
from inverted import Lab

from stillroom.core.sound.analysis import Weighting
from stillroom.core.sound.background import corrected
from stillroom.core.sound.shaft_speed import speed_from_sound
from stillroom.core.sound.tones import tones
from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.sound.truth import RecordingTruth, SoundTruth
from stillroom.demo.write import SEED

LEVEL_WITHIN, CORRECTED_WITHIN, SPEED_WITHIN = 0.1, 0.3, 5e-4
LORRY = "sedge_s1_q1_55pct_rad27"
"""The dwell in which a lorry passes: the fan's blades can't be heard in it."""
BEYOND = 1.0
"""How far from the criterion a tone must lie for its prominence to be told [dB]."""


def sound_of(lab: Lab) -> SoundTruth:
    assert lab[1].sound is not None
    return lab[1].sound


def quiet_files() -> list[str]:
    """The recordings of the short round's fans, by the end of their path."""
    duties = ("ramp-up", "55pct", "85pct", "100pct")
    names = ("bracken", "tormentil", "bilberry", "asphodel", "sedge", "sundew")
    return [f"{name}_s1_q1_{each}_rad27" for name in names for each in duties]


def the(truth: SoundTruth, name: str) -> RecordingTruth:
    return next(each for each in truth.recordings if f"/{name}." in each.file)


def background(truth: SoundTruth, recording: RecordingTruth, what: str) -> RecordingTruth:
    session = recording.file.rpartition("/")[0]
    return next(e for e in of_what(truth, what) if e.file.rpartition("/")[0] == session)


@pytest.mark.parametrize("name", quiet_files())
def test_a_recordings_level_is_that_of_the_signal(sounding: Lab, name: str) -> None:
    """A lorry that passes is left out of it."""
    each = the(sound_of(sounding), name)
    found = recorded(sounding[0], each).analysis()
    assert found.equivalent[Weighting.A] + each.full_scale == pytest.approx(each.level, abs=LEVEL_WITHIN)
    lorry = name == "sedge_s1_q1_55pct_rad27"
    assert (found.rejected > 0.2) == lorry
    if not lorry:
        assert found.rejected == 0.0
        assert found.integrity.clipped == 0


@pytest.mark.parametrize("name", [each for each in quiet_files() if "ramp" not in each])
def test_the_fans_own_level_comes_out_of_the_background(sounding: Lab, name: str) -> None:
    folder, truth = sounding[0], sound_of(sounding)
    each = the(truth, name)
    read = recorded(folder, each).analysis().equivalent[Weighting.A] + each.full_scale
    around = [background(truth, each, what) for what in ("background before", "background after")]
    levels = [recorded(folder, e).analysis().equivalent[Weighting.A] + e.full_scale for e in around]
    found = corrected(read, sum(levels) / 2)
    assert each.fan_level is not None
    if each.level - each.background >= 6.2:
        assert not found.is_bound
        assert found.level == pytest.approx(each.fan_level, abs=CORRECTED_WITHIN)
    if each.level - each.background <= 5.8:
        assert found.is_bound
        assert found.level >= each.fan_level


@pytest.mark.parametrize("name", [each for each in quiet_files() if "ramp" not in each and each != LORRY])
def test_the_speed_is_heard(sounding: Lab, name: str) -> None:
    each = the(sound_of(sounding), name)
    models = fans(SEED, obstacles(SEED, full=False), full=False)
    blades = next(fan.blades for fan in models if fan.name == each.fan)
    found = recorded(sounding[0], each).analysis()
    heard = speed_from_sound(
        found.spectrum, found.resolution, found.noise_bandwidth, blades=blades, between=(5.0, 60.0),
        near=each.speed * 1.0006,
    )  # fmt: skip
    assert heard.speed == pytest.approx(each.speed, rel=SPEED_WITHIN)


@pytest.mark.parametrize("name", [each for each in quiet_files() if "ramp" not in each])
def test_every_prominent_tone_is_found_and_none_invented(sounding: Lab, name: str) -> None:
    """Tones within 1 dB of the criterion may be told either way."""
    each = the(sound_of(sounding), name)
    found = recorded(sounding[0], each).analysis()
    told = tones(found.spectrum, found.resolution, found.noise_bandwidth)
    prominent = [one.frequency for one in told if one.prominent]
    over = {one.frequency: tone_to_noise(one) - criterion(one.frequency) for one in each.tones}
    for frequency, excess in over.items():
        near = any(abs(one - frequency) < 3.0 for one in prominent)
        if excess > BEYOND and frequency > 89.1:  # the lowest frequency of ECMA-418-1
            assert near, f"{frequency:.1f} Hz stands {excess:.1f} dB over the criterion"
    for one in prominent:
        nearest = min(over, key=lambda frequency: abs(frequency - one))
        assert abs(nearest - one) < 3.0, f"no tone at {one:.1f} Hz"
        assert over[nearest] > -BEYOND, f"{one:.1f} Hz"
