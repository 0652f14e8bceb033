"""The word for a sound recording right after it came in, on recordings of a fan whose level is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from sound_world import RATE, Array, Bench, at_level, background, calibrator, fan_level, turning

from stillroom import verbs
from stillroom.lab.intake.checked import Checked, Word
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

SECONDS = 4.0
SPEEDS = (20.0, 25.0, 30.0)


def day(bench: Bench) -> None:
    """Calibrators, the room, and one mounting of Sedge at three speeds."""
    told = {"fan": "Sedge", "sample": "s1", "session": "A", "mounting": "Sedge-1"}
    bench.record("a/cal-before.wav", calibrator(5.0), recording="calibrator before", session="A")
    bench.record("a/room.wav", background(14.0, SECONDS, seed=98), recording="background before", session="A")
    for i, speed in enumerate(SPEEDS):
        samples = turning(speed, SECONDS, i) + background(14.0, SECONDS, seed=50 + i)
        bench.record(f"a/dwell-{i}.wav", samples, recording="dwell", duty=(50, 75, 100)[i], **told)
    bench.finish()


SHORT = "\n[limits]\naveraging_time = 3.0\nleast_averaging_time = 2.0\n"
"""Recordings here are short, to be quick."""


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    day(Bench(tmp_path))
    folder.make(tmp_path / "lab", template("Quiet") + SHORT)
    opened = Lab(tmp_path / "lab")
    bring_in(opened, [tmp_path / "bench"], {})
    return opened


SAID = {"fan": "Sedge", "sample": "s1", "session": "A", "mounting": "Sedge-2", "recording": "dwell"}


def added(lab: Lab, tmp_path: Path, samples: Array, **said: str) -> Checked:
    path = tmp_path / "later" / f"{len(list(tmp_path.rglob('*.wav')))}.wav"
    path.parent.mkdir(exist_ok=True)
    soundfile.write(path, samples, RATE, subtype="PCM_24")
    came = bring_in(lab, [path], SAID | said)
    assert not came.bad
    (one,) = check_in(lab, came.runs, workers=1)[0]
    return one


def louder(speed: float, by: float, seed: int = 7) -> Array:
    heard = at_level(turning(speed, SECONDS, seed), fan_level(speed) + by)
    return np.asarray(heard + background(14.0, SECONDS, seed=60))


def test_a_dwell_is_said_beside_the_last_mountings_curve(lab: Lab, tmp_path: Path) -> None:
    one = added(lab, tmp_path, louder(25.0, 0.5))
    assert one.word is Word.AGREES, one.line
    assert one.away == pytest.approx(0.5, abs=0.25)
    assert f"{fan_level(25.0) + 0.5:.0f}" in one.reason
    assert "dBA at 0.5 m at 1,500 rpm" in one.reason
    assert one.reason.endswith("above mounting Sedge-1")
    assert "Sedge s1 dwell" in one.line


@pytest.mark.parametrize(("by", "side"), [(2.2, "above"), (-2.2, "below")])
def test_a_level_far_from_the_last_mountings_is_to_be_looked_at(
    lab: Lab, tmp_path: Path, by: float, side: str
) -> None:
    one = added(lab, tmp_path, louder(30.0, by), sample="s2")
    assert one.word is Word.LOOK, one.line
    assert one.away == pytest.approx(abs(by), abs=0.3)
    assert f"dB {side} mounting Sedge-1" in one.reason


def test_a_level_far_from_that_of_the_same_sample_is_stopped_at_by_its_finding(
    lab: Lab, tmp_path: Path
) -> None:
    one = added(lab, tmp_path, louder(30.0, 4.0))
    assert one.word is Word.STOP, one.line
    assert "dB above mounting Sedge-1; Sedge-s1-Sedge-2 is +4" in one.reason


def test_of_another_mounting_only_its_own_recordings_and_those_compared_are_worked_out(
    lab: Lab, tmp_path: Path
) -> None:
    first = added(lab, tmp_path, louder(25.0, 0.0), fan="Rush", mounting="Rush-1")
    assert first.word is Word.FIRST, first.line
    assert first.reason.endswith("nothing to compare it with yet")
    assert "dBA at 0.5 m at 1,500 rpm" in first.reason
    sounds = lab.database.execute("select count(*) from results where kind = 'sound'").fetchone()[0]
    assert sounds == 1


def test_a_dwell_that_is_cut_short_is_stopped_at_by_its_finding(lab: Lab, tmp_path: Path) -> None:
    one = added(lab, tmp_path, louder(25.0, 0.0)[: round(1.4 * RATE)])
    assert one.word is Word.STOP, one.line
    assert "averaged over 1" in one.reason
    assert {each.rule for each in one.findings} >= {10}


def test_silence_is_stopped_at_with_its_cause(lab: Lab, tmp_path: Path) -> None:
    one = added(lab, tmp_path, np.zeros(RATE * 4), tachometer="1500")
    assert one.word is Word.STOP, one.line
    assert "silence" in one.reason


def test_where_the_room_is_as_loud_as_the_fan_its_level_is_only_a_bound(lab: Lab, tmp_path: Path) -> None:
    one = added(lab, tmp_path, background(16.0, SECONDS, seed=70), tachometer="1200")
    assert one.word is Word.LOOK, one.line
    assert "at most" in one.reason


def test_a_speed_that_the_last_mounting_did_not_reach_is_no_comparison(lab: Lab, tmp_path: Path) -> None:
    one = added(lab, tmp_path, louder(36.0, 0.0))
    assert one.word is Word.FIRST, one.line
    assert "mounting Sedge-1 was heard from 1,200 rpm to 1,800 rpm" in one.reason


def test_the_verb_ends_with_a_word_about_each_recording(lab: Lab, tmp_path: Path) -> None:
    copied = tmp_path / "again.wav"
    soundfile.write(copied, louder(25.0, 0.2), RATE, subtype="PCM_24")
    told = tuple(f"{key}={value}" for key, value in SAID.items())
    said = verbs.add(copied, as_=told, lab=lab.path)
    (line,) = [each for each in said.lines if "agrees" in each]
    assert "mounting Sedge-1" in line
    assert [each["word"] for each in said.data["checked"]] == ["agrees"]


def test_a_finding_of_the_mounting_is_said_once_of_the_dwell_it_names(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    told = {"fan": "Sedge", "sample": "s1", "session": "A", "mounting": "Sedge-1"}
    for side in ("before", "after"):
        tone = calibrator(5.0, off=0.1 * (side == "after"))
        bench.record(f"a/cal-{side}.wav", tone, recording=f"calibrator {side}", session="A")
        bench.record(
            f"a/bg-{side}.wav", background(21.0, SECONDS, seed=len(side)),
            recording=f"background {side}", session="A",
        )  # fmt: skip
    for i, speed in enumerate((25.0, 35.0)):
        samples = turning(speed, SECONDS, i) + background(21.0, SECONDS, seed=50 + i)
        bench.record(f"a/dwell-{i}.wav", samples, recording="dwell", duty=(50, 100)[i], **told)
    bench.finish()
    folder.make(tmp_path / "lab", template("Quiet") + SHORT)
    with Lab(tmp_path / "lab") as lab:
        came = bring_in(lab, [tmp_path / "bench"], {})
        checked = {each.placed.taken.file: each for each in check_in(lab, came.runs, workers=1)[0]}
    near = [name for name, each in checked.items() if "near its background" in each.reason]
    assert near == ["bench/a/dwell-0.wav"]
    calibrators = [each for name, each in checked.items() if "cal-" in name]
    assert [each.word for each in calibrators] == [Word.FIRST, Word.FIRST]
    assert all("dB, for Sedge-1" in each.reason and "dBA" not in each.reason for each in calibrators)


def test_why_no_level_could_be_had_is_said_of_the_dwells_alone(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.record("a/cal.wav", calibrator(5.0), recording="calibrator", session="A")
    bench.record("a/bg.wav", background(14.0, SECONDS), recording="background", session="A")
    for i in range(2):
        samples = background(34.0 + i, SECONDS, seed=50 + i)
        bench.record(f"a/dwell-{i}.wav", samples, recording="dwell", fan="Sedge", duty=40 + i, session="A")
    bench.finish()
    folder.make(tmp_path / "lab", template("Quiet") + SHORT)
    with Lab(tmp_path / "lab") as lab:
        came = bring_in(lab, [tmp_path / "bench"], {})
        checked = check_in(lab, came.runs, workers=1)[0]
    stopped = [each for each in checked if each.word is Word.STOP]
    assert sorted(each.placed.taken.file for each in stopped) == [
        "bench/a/dwell-0.wav",
        "bench/a/dwell-1.wav",
    ]
    others = {each.reason for each in checked if each not in stopped}
    assert len(others) == 1
    assert len(others.pop()) < 80
