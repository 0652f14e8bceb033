"""Excerpts of recordings: at their true levels on one scale, or at one level; nothing clipped, each told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from sound_world import RATE, SPEEDS, Bench, a_level, fan_level, ramp, reduced, turning, usual_session

from stillroom import verbs
from stillroom.errors import BadInput, Contradiction, NotPossible, UnknownThing

FADED = slice(round(0.3 * RATE), -round(0.3 * RATE))
SOUND_WORLD_SCALE = 118.0  # of `a_level`: level of a mean square of 1


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Path:
    bench = Bench(tmp_path_factory.mktemp("listening"))
    usual_session(bench)
    knocked = turning(SPEEDS[1], 12.0, 31)
    knocked[3 * RATE : 4 * RATE] *= 8.0  # somebody knocked
    bench.record("a/rush.wav", knocked, recording="dwell", fan="Rush", sample="s1", session="A",
                 mounting="Rush-1", duty=70, tachometer=1450)  # fmt: skip
    bench.finish()
    with bench.lab() as made:
        reduced(made)
        return made.path


def level_of(path: Path, scale: float) -> float:
    """LAeq of a file without its fades, by the test's own weighting [dB(A)]."""
    samples, rate = soundfile.read(path)
    assert rate == RATE
    assert soundfile.info(path).subtype == "PCM_24"
    assert np.abs(samples).max() < 10.0 ** (-1.0 / 20.0)
    return a_level(samples[FADED]) - SOUND_WORLD_SCALE + scale


def test_levels_are_true_on_one_scale(lab: Path, tmp_path: Path) -> None:
    slow = verbs.listen("Sedge", speed="1180", seconds=5.0, out=tmp_path / "slow", lab=lab)
    both = verbs.listen("Sedge", "Rush", speed="1450", seconds=5.0, out=tmp_path / "both", lab=lab)
    for said, folder in ((slow, "slow"), (both, "both")):
        scale = said.data["full_scale"]
        for each in said.data["excerpts"]:
            found = level_of(tmp_path / folder / each["file"], scale)
            assert found == pytest.approx(each["level"], abs=0.1)
            truth = 10.0 * np.log10(10.0 ** (fan_level(each["speed"] / 60.0) / 10.0) + 10.0**1.6)
            assert found == pytest.approx(truth, abs=0.3)  # the world's own: a fan, and a room of 16 dBA
            assert each["length"] == 5.0
            assert each["level"] == each["level_true"]
        tone, rate = soundfile.read(tmp_path / folder / "reference-tone.wav")
        mean_square = float(np.mean(tone[rate:-rate] ** 2))
        assert 10.0 * np.log10(mean_square) + scale == pytest.approx(said.data["reference"], abs=0.01)
        text = (tmp_path / folder / "excerpts.txt").read_text("utf-8")
        assert f"reads {said.data['reference']:g} dB" in text
        for each in said.data["excerpts"]:
            for word in (
                each["file"],
                each["from"],
                each["key"][:10],
                f"{each['level']:.1f} dBA at 0.5 m",
                "rpm",
            ):
                assert word in text
    assert len({each["file"] for each in both.data["excerpts"]}) == 2


def test_transients_are_not_in_an_excerpt(lab: Path, tmp_path: Path) -> None:
    (rush,) = verbs.listen("Rush", seconds=7.0, out=tmp_path, lab=lab).data["excerpts"]
    assert rush["start"] == 4.0
    with pytest.raises(NotPossible, match="without a transient"):
        verbs.listen("Rush", seconds=9.0, lab=lab)


def test_matched_ones_have_one_level(lab: Path, tmp_path: Path) -> None:
    said = verbs.listen("Sedge", "Rush", matched=True, seconds=4.0, out=tmp_path, lab=lab)
    scale = said.data["full_scale"]
    true = [each["level_true"] for each in said.data["excerpts"]]
    assert max(true) - min(true) > 3.0
    for each in said.data["excerpts"]:
        assert each["level"] == pytest.approx(min(true), abs=1e-9)
        assert level_of(tmp_path / each["file"], scale) == pytest.approx(min(true), abs=0.1)
    assert "moved by" in (tmp_path / "excerpts.txt").read_text("utf-8")


def test_the_steady_part_is_the_recording_itself(lab: Path, tmp_path: Path) -> None:
    said = verbs.listen("Sedge", duty="50 %", seconds=3.0, out=tmp_path, lab=lab)
    (each,) = said.data["excerpts"]
    written, _ = soundfile.read(tmp_path / each["file"])
    original = lab.parent / "bench" / "a" / "dwell-2.wav"
    first = round(each["start"] * RATE)
    samples, _ = soundfile.read(original, start=first, stop=first + 3 * RATE)
    gain = float(written[FADED] @ samples[FADED] / (samples[FADED] @ samples[FADED]))
    np.testing.assert_allclose(written[FADED], gain * samples[FADED], atol=2.0**-22)
    assert abs(written[0]) < 1e-5
    assert abs(written[-1]) < 1e-5


def test_a_noise_limit_takes_the_recording_that_meets_it(lab: Path, tmp_path: Path) -> None:
    limit = fan_level(SPEEDS[1]) + 0.3
    said = verbs.listen("Sedge", noise=f"{limit:.1f}", out=tmp_path / "1", lab=lab)
    (each,) = said.data["excerpts"]
    assert each["speed"] == pytest.approx(1450.0, rel=0.002)
    assert "dBA at 0.5 m, which it meets at" in " ".join(said.lines)
    said = verbs.listen(
        "Sedge", "Rush", noise=f"{fan_level(SPEEDS[0]) - 0.2:.1f}", out=tmp_path / "2", lab=lab
    )
    assert said.data["excerpts"][0]["speed"] == pytest.approx(1800.0, rel=0.002)


def test_no_call_overwrites_anothers_files(lab: Path, tmp_path: Path) -> None:
    folders = []
    for speed in ("1180", "1450", "1180"):
        said = verbs.listen("Sedge", speed=speed, seconds=2.0, lab=lab)
        folders.append(Path(said.lines[-1].removeprefix("Written: ")))
    assert [each.name for each in folders] == ["1180-rpm", "1450-rpm", "1180-rpm-2"]
    for each in folders:
        text = (each / "excerpts.txt").read_text("utf-8")
        assert all(sound.name in text for sound in each.glob("*.wav"))
    verbs.listen("Sedge", seconds=2.0, out=tmp_path, lab=lab)
    before = {each: each.read_bytes() for each in tmp_path.iterdir()}
    with pytest.raises(BadInput, match="earlier call"):
        verbs.listen("Sedge", speed="1180", seconds=2.0, out=tmp_path, lab=lab)
    assert {each: each.read_bytes() for each in tmp_path.iterdir()} == before


def test_between_dwells_a_ramp_is_heard(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    usual_session(bench)
    bench.record("a/sweep.wav", ramp(16.0, 32.0, 64.0, 77), recording="ramp up", fan="Sedge", sample="s1",
                 session="A", mounting="Sedge-1", speed_from=960, speed_to=1920)  # fmt: skip
    bench.finish()
    with bench.lab() as made:
        reduced(made)
    said = verbs.listen("Sedge", speed="1010", seconds=2.0, lab=made.path)
    (each,) = said.data["excerpts"]
    assert each["from"].endswith("sweep.wav")
    assert each["start"] + 1.0 == pytest.approx((1010.0 / 60.0 - 16.0) / 0.25, abs=0.5)  # 0.25 1/s a second
    assert any("cut from a ramp" in mark for mark in each["marks"])
    assert "cut from a ramp" in next(made.path.glob("listen/*/excerpts.txt")).read_text("utf-8")


def test_what_nothing_was_recorded_at_is_said(lab: Path, tmp_path: Path) -> None:
    with pytest.raises(NotPossible, match=r"nothing recorded near 900 rpm: 1,1\d\d rpm"):
        verbs.listen("Sedge", speed="900", out=tmp_path / "3", lab=lab)
    with pytest.raises(NotPossible, match="50 %, 70 %, 100 % only"):
        verbs.listen("Sedge", duty="35 %", out=tmp_path / "4", lab=lab)
    said = verbs.listen("Sedge", "Rush", speed="1800", out=tmp_path / "5", lab=lab)
    assert [each["fan"] for each in said.data["left_out"]] == ["Rush"]
    assert any(line.startswith("No excerpt of Rush") for line in said.lines)


def test_mistakes_are_answered(lab: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no fan"):
        verbs.listen(lab=lab)
    with pytest.raises(UnknownThing, match="Nobody"):
        verbs.listen("Nobody", lab=lab)
    with pytest.raises(BadInput, match="--seconds"):
        verbs.listen("Sedge", seconds=0.2, lab=lab)
    with pytest.raises(Contradiction):
        verbs.listen("Sedge", speed="1200", duty="50 %", lab=lab)
