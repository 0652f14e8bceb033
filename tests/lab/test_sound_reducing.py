"""From the recordings of a session to a kept result: levels, speeds, keys, exclusions, and what is missing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sound_world import (
    BLADES,
    FULL_SCALE,
    RIG,
    SPEEDS,
    Bench,
    a_level,
    background,
    calibrator,
    fan_level,
    graph_of,
    ramp,
    reduced,
    swept,
    turning,
    usual_session,
)

from stillroom.core.sound.sound_mounting import SoundMounting, SpeedFrom
from stillroom.errors import NotPossible
from stillroom.lab.curves import result_of
from stillroom.lab.recipes import Graph
from stillroom.lab.reducing import missing, reduce_lab
from stillroom.lab.sound.loading import load_heard, load_sound, load_spectrogram
from stillroom.lab.sound.nodes import SoundNode
from stillroom.lab.tracing import follow
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.store.results import array_file

ALL_FACTS = {
    "run", "key", "file", "what", "date", "moment", "setting", "setting_kind", "duration", "rate", "level",
    "c_level", "z_level", "level_corrected", "is_bound", "correction", "delta", "background", "background_before",
    "background_after", "fast_max", "slow_max", "exceeded", "seconds", "rejected", "transients", "clipped",
    "dropouts", "drift", "scatter", "speed", "tones", "bands", "bands_background", "bands_bound", "loudness",
    "sharpness", "distance", "angle", "height", "side", "holder", "channel",
}  # fmt: skip


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Graph]]:
    """A lab with the usual session, reduced; tests that change it make their own."""
    bench = Bench(tmp_path_factory.mktemp("session"))
    usual_session(bench)
    bench.finish()
    with bench.lab() as lab:
        yield lab, reduced(lab)


def only(graph: Graph) -> SoundNode:
    (node,) = graph.sounds
    return node


def loaded(lab: Lab, graph: Graph) -> SoundMounting:
    return load_sound(lab.path, result_of(lab, only(graph)))


def facts(lab: Lab, graph: Graph, file: str = "") -> list[dict[str, Any]]:
    body = results.get(lab.database, only(graph).key).body  # type: ignore[union-attr]
    return [each for each in body["recordings"] if file in each["file"]]


def exclude(lab: Lab, subject: str, key: str) -> None:
    decision = Decision(finding=subject, rule="0", subject=subject, key=key, action="exclude", reason="a test",
                        by="test", time="2026-01-01T00:00:00+00:00")  # fmt: skip
    lab.write([Note(Decision.kind, decision.name, as_json(decision))])


# --- a session ------------------------------------------------------------------------------------------------


def test_the_level_is_that_of_the_sound_with_its_background(session: tuple[Lab, Graph]) -> None:
    # what the microphone heard: fan and room together, as the test itself adds them up
    for i, speed in enumerate(SPEEDS):
        heard = turning(speed, 12.0, i) + background(16.0, 12.0, seed=50 + i)
        found = facts(*session, f"dwell-{i}")[0]
        assert found["level"] == pytest.approx(
            a_level(heard) - 0.05, abs=0.1
        )  # the calibrators' mean: -0.05 dB


def test_the_corrected_level_is_the_fans_own(session: tuple[Lab, Graph]) -> None:
    sound = loaded(*session)
    assert [each.is_bound for each in sound.dwells] == [False] * 3
    for dwell, speed in zip(sound.dwells, sorted(SPEEDS), strict=True):
        assert dwell.level == pytest.approx(fan_level(speed), abs=0.3)


def test_the_speed_is_heard_within_five_hundredths_of_a_per_cent(session: tuple[Lab, Graph]) -> None:
    for dwell, speed in zip(loaded(*session).dwells, sorted(SPEEDS), strict=True):
        assert dwell.speed_from is SpeedFrom.SOUND
        assert dwell.speed == pytest.approx(speed, rel=5e-4)
        assert 0.0 < dwell.u_speed < 1e-3 * speed


def test_the_curve_goes_through_the_levels_and_says_how_well_they_are_known(
    session: tuple[Lab, Graph],
) -> None:
    curve = loaded(*session).levels
    rows = curve.rows(speeds=np.array(sorted(SPEEDS)))
    for i, speed in enumerate(sorted(SPEEDS)):
        assert rows[0, i] == pytest.approx(fan_level(speed), abs=0.3)
        spread = rows[1 + len(curve.sources) :, i].std()
        assert 0.25 < spread < 0.9  # calibrator, response, day and place together
    assert {each.split("/")[0] for each in curve.sources} == {
        "calibrator", "calibration", "microphone", "day", "place"
    }  # fmt: skip


def test_blade_pass_is_found_and_named(session: tuple[Lab, Graph]) -> None:
    for dwell, speed in zip(loaded(*session).dwells, sorted(SPEEDS), strict=True):
        orders = {round(each.order) for each in dwell.tones if each.tone.prominent}
        assert BLADES in orders, f"at {speed * 60:.0f} rpm: {dwell.tones}"
        assert orders <= {BLADES * h for h in (1, 2, 3, 4)}


def test_duties_and_speeds_belong_together(session: tuple[Lab, Graph]) -> None:
    sound = loaded(*session)
    assert [setting for setting, _ in sound.settings["duty"]] == pytest.approx([0.5, 0.7, 1.0])
    assert [speed for _, speed in sound.settings["duty"]] == pytest.approx(sorted(SPEEDS), rel=5e-4)
    assert sound.full_speed == pytest.approx(SPEEDS[0], rel=5e-4)


def test_loudness_rises_with_level_and_bands_add_up(session: tuple[Lab, Graph]) -> None:
    sound = loaded(*session)
    lowest, *loud = [each.loudness for each in sound.dwells]
    assert None not in loud
    assert loud == sorted(loud, key=lambda each: each or 0.0)
    told = sorted(facts(*session, "dwell"), key=lambda each: float(each["level"]))
    assert (lowest is None) == told[0]["loudness_is_bound"]  # bands near the room's make it a bound
    assert [each["loudness"] for each in told] == sorted(each["loudness"] for each in told)
    assert any(told[0]["bands_bound"])
    assert sound.phons is not None
    assert sound.phons.central[-1] - sound.phons.central[0] == pytest.approx(
        sound.phons.rows()[0, -1] - sound.phons.rows()[0, 0]
    )
    assert all(each.sharpness is not None and 0.5 < each.sharpness < 3.0 for each in sound.dwells[1:])
    for each in facts(*session, "dwell"):
        power = sum(10.0 ** (0.1 * band) for band in each["bands"] if band is not None)
        assert 10.0 * np.log10(power) == pytest.approx(each["z_level"], abs=0.3)


def test_all_facts_are_told_of_each_recording(session: tuple[Lab, Graph]) -> None:
    told = facts(*session)
    assert [each["what"] for each in told].count("dwell") == 3
    assert len(told) == 7
    for each in facts(*session, "dwell"):
        assert each.keys() >= ALL_FACTS
        assert each["distance"] == 0.5
        assert each["channel"] == 1
    for each in told:
        assert isinstance(each["seconds"], list)


def test_the_calibration_is_kept_with_its_sides(session: tuple[Lab, Graph]) -> None:
    lab, graph = session
    told = result_of(lab, only(graph)).body["calibration"]
    assert told["before"] == pytest.approx(FULL_SCALE, abs=0.02)
    assert told["drift"] == pytest.approx(-0.1, abs=0.02)
    assert told["offset"] == pytest.approx(FULL_SCALE - 0.05, abs=0.02)
    assert told["microphone"] == "mic-1"


def test_a_spectrum_can_be_loaded_on_its_scale(session: tuple[Lab, Graph]) -> None:
    lab, graph = session
    dwell = loaded(lab, graph).dwells[-1]
    heard, offset = load_heard(lab, only(graph), dwell.run)
    assert heard.spectrum is not None
    assert heard.resolution is not None
    assert heard.resolution <= 1.5
    total = offset + 10.0 * np.log10(np.sum(heard.spectrum))
    assert dwell.z_level == pytest.approx(total, abs=0.2)


def test_a_level_is_followed_to_the_bytes_of_its_recordings(session: tuple[Lab, Graph]) -> None:
    lab, graph = session
    node = only(graph)
    found = follow(lab, node.key)
    text = "\n".join(found.lines)
    for each in node.members:
        assert each.run.placed.taken.sha256 in text
        assert each.run.placed.taken.place in text
    assert "calibrator of 94 dB" in text
    assert "background" in text
    assert len(found.data["from"]) == 7
    recording = node.recordings[0]
    one = follow(lab, recording.key)
    assert "dB re full scale" in one.title
    assert recording.run.placed.taken.sha256 in one.lines[0]


def test_nothing_is_worked_out_twice(session: tuple[Lab, Graph]) -> None:
    lab, graph = session
    assert missing(lab, graph) == []
    again = reduce_lab(lab, graph_of(lab), workers=1)
    assert (again.recordings_made, again.sounds_made) == (0, 0)
    assert (again.recordings, again.sounds) == (7, 1)
    assert again.failed == {}


def test_a_ramp_gives_the_level_at_every_speed_between(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    told = {"fan": "Sedge", "sample": "s1", "mounting": "Sedge-1", "session": "A"}
    bench.record("cal.wav", calibrator(), recording="calibrator before", session="A")
    bench.record("room.wav", background(10.0, 6.0), recording="background", session="A")
    sound_of_it = ramp(14.0, 30.0, 50.0, 3) + background(10.0, 50.0, seed=8)
    told_ends = {"speed from": 840, "speed to": 1800}
    bench.record("up.wav", sound_of_it, recording="ramp up", **told, **told_ends)
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        curve = loaded(lab, graph).levels
        assert curve.reach[0] == pytest.approx(14.0, rel=0.03)
        assert curve.reach[1] == pytest.approx(30.0, rel=0.01)
        for speed in (16.0, 20.0, 25.0, 29.0):
            steady = np.full(5 * 48_000, speed)
            true = a_level(swept(steady, np.cumsum(steady) / 48_000, 5.0, 3))
            assert curve.rows(speeds=np.array([speed]))[0, 0] == pytest.approx(true, abs=0.5)
        kept = load_spectrogram(lab, only(graph), facts(lab, graph, "up")[0]["run"])
        assert kept.track is not None
        even = 14.0 + 16.0 * kept.track.times / 50.0
        assert np.median(np.abs(kept.track.speed / even - 1.0)[kept.track.trusted]) < 2e-3
        assert kept.spectrogram.levels[-2] + kept.offset == pytest.approx(33.7, abs=1.0)
        assert facts(lab, graph, "up")[0]["ramp"]["trusted"] > 0.5


# --- keys -----------------------------------------------------------------------------------------------------


@pytest.fixture
def small(tmp_path: Path) -> Bench:
    """A short session of two dwells."""
    bench = Bench(tmp_path)
    told = {"fan": "Sedge", "sample": "s1", "mounting": "Sedge-1", "session": "A"}
    bench.record("cal-before.wav", calibrator(), recording="calibrator before", session="A")
    bench.record("cal-after.wav", calibrator(off=0.2), recording="calibrator after", session="A")
    bench.record("room.wav", background(14.0, 6.0), recording="background", session="A")
    for i, speed in enumerate(SPEEDS[:2]):
        bench.record(f"dwell-{i}.wav", turning(speed, 6.0, i) + background(14.0, 6.0, seed=5 + i), **told,
                     recording="dwell", duty=(100, 70)[i], tachometer=round(speed * 60))  # fmt: skip
    return bench


def test_a_new_calibration_costs_no_new_pass_and_moves_levels_by_the_difference(small: Bench) -> None:
    small.finish()
    with small.lab() as lab:
        graph = reduced(lab)
        before = loaded(lab, graph)
        after_run = next(each for each in only(graph).calibrators if "after" in each.subject)
        exclude(lab, f"run:{after_run.name}", after_run.key)
        again = graph_of(lab)
        assert only(again).key != only(graph).key
        assert [each.key for each in again.recordings] == [each.key for each in graph.recordings]
        done = reduce_lab(lab, again, workers=1)
        assert (done.recordings_made, done.sounds_made) == (0, 1)
        moved = loaded(lab, again)
        offset = result_of(lab, only(again)).body["calibration"]["offset"]
        difference = offset - result_of(lab, only(graph)).body["calibration"]["offset"]
        assert difference == pytest.approx(0.1, abs=0.01)
        for one, other in zip(moved.dwells, before.dwells, strict=True):
            assert one.level - other.level == pytest.approx(difference, abs=1e-9)


def test_an_excluded_run_is_left_out_and_an_excluded_mounting_is_gone(small: Bench) -> None:
    small.finish()
    with small.lab() as lab:
        graph = reduced(lab)
        node = only(graph)
        run = node.recordings[0]
        exclude(lab, f"run:{run.name}", run.key)
        again = reduced(lab)
        assert [each.name for each in only(again).left_out] == [run.name]
        assert run.name not in {each.run for each in loaded(lab, again).dwells}
        assert only(again).judged == node.judged
        assert (f"run:{run.name}", run.key) in again.excluded
        exclude(lab, f"mounting:{node.subject}", node.judged)
        gone = graph_of(lab)
        assert gone.sounds == ()
        assert (f"mounting:{node.subject}", node.judged) in gone.excluded


@pytest.mark.slow
def test_one_worker_and_two_give_the_same_bits(small: Bench) -> None:
    small.finish()
    bodies, arrays = [], []
    for workers in (1, 2):
        with small.lab(f"lab{workers}") as lab:
            graph = graph_of(lab)
            reduce_lab(lab, graph, workers=workers)
            node = only(graph)
            body = result_of(lab, node).body
            for each in body["recordings"]:
                each["moment"] = each["date"] = ""  # of the arrival
            bodies.append(body | {"curve": None})
            arrays.append(results.load_arrays(lab.path, node.key))
    assert bodies[0] == bodies[1]
    assert arrays[0].keys() == arrays[1].keys()
    for name, values in arrays[0].items():
        assert np.array_equal(values, arrays[1][name], equal_nan=True), name


def test_a_lost_cache_is_made_anew(small: Bench) -> None:
    small.finish()
    with small.lab() as lab:
        graph = reduced(lab)
        lost = only(graph).recordings[0]
        array_file(lab.path, lost.key).unlink()
        assert [each.subject for each in missing(lab, graph)] == [only(graph).subject]
        done = reduce_lab(lab, graph, workers=1)
        assert (done.recordings_made, done.sounds_made) == (1, 0)
        assert missing(lab, graph) == []


@pytest.mark.slow
def test_killed_in_the_middle_the_next_one_goes_on(small: Bench) -> None:
    small.finish()
    with small.lab() as lab:
        path = lab.path
    code = (
        "import sys; from pathlib import Path; from stillroom.lab.book import open_book;"
        "from stillroom.lab.recipes import build_graph; from stillroom.lab.reducing import reduce_lab;"
        "from stillroom.store.lab import Lab;\n"
        "def said(what, done, of): print(what, done, of, flush=True)\n"
        "with Lab(Path(sys.argv[1])) as lab: reduce_lab(lab, build_graph(open_book(lab)), workers=1, progress=said)"
    )
    child = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    for line in child.stdout:
        if line.startswith("recordings 2 "):
            os.kill(child.pid, signal.SIGKILL)
            break
    child.wait(timeout=30)
    child.stdout.close()
    with Lab(path) as lab:
        graph = graph_of(lab)
        there = results.known(lab.database, lab.path, [each.key for each in graph.recordings])
        assert len(there) >= 2
        done = reduce_lab(lab, graph, workers=1)
        assert done.recordings_made == 5 - len(there)
        assert loaded(lab, graph).dwells


# --- what is wrong or not there -----------------------------------------------------------------------------------


def test_a_recording_that_cannot_be_used_says_why_and_stops_no_other(small: Bench) -> None:
    told = {"fan": "Sedge", "sample": "s1", "mounting": "Sedge-1", "session": "A", "recording": "dwell"}
    small.record("silent.wav", np.zeros(6 * 48_000), **told, duty=30)
    small.record("drowned.wav", background(13.0, 6.0, seed=77), **told, duty=20, tachometer=500)
    small.record("other.wav", background(9.0, 6.0, seed=78), **told, duty=25, tachometer=600)
    small.finish()
    with small.lab() as lab:
        graph = reduced(lab)
        drowned, *others = loaded(lab, graph).dwells
        assert len(others) == 2
        assert not any(each.is_bound for each in others)
        assert drowned.is_bound
        assert drowned.level == pytest.approx(13.0, abs=0.3)
        assert drowned.bands_bound is not None
        assert drowned.bands_bound.sum() > 25
        assert "silence" in facts(lab, graph, "silent")[0]["failed"]
        assert "no louder than the background" in facts(lab, graph, "other")[0]["failed"]


def test_near_the_background_a_level_is_a_bound(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    usual_session(bench, room=21.5, seconds=6.0)
    bench.finish()
    with bench.lab() as lab:
        sound = loaded(lab, reduced(lab))
        slowest = sound.dwells[0]
        assert slowest.is_bound
        assert slowest.level >= fan_level(min(SPEEDS))
        assert slowest.loudness is None
        assert "some levels are upper bounds" in sound.marks
        assert not sound.dwells[-1].is_bound


def test_what_is_no_calibrator_gives_no_level(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    told = {"fan": "Sedge", "sample": "s1", "session": "A"}
    bench.record("cal.wav", calibrator(frequency=440.0), recording="calibrator before", session="A")
    bench.record("dwell.wav", turning(SPEEDS[0], 6.0, 1), **told, recording="dwell", duty=100)
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        with pytest.raises(NotPossible, match="440 Hz"):
            result_of(lab, only(graph))
        one = facts(lab, graph, "dwell")[0]
        assert one["level"] is None
        assert "440 Hz" in one["failed"]
        assert "440 Hz" in facts(lab, graph, "cal")[0]["failed"]


def test_a_calibrator_at_another_gain_contradicts(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.record("cal-1.wav", calibrator(), recording="calibrator before", session="A")
    bench.record("cal-2.wav", calibrator(off=10.0), recording="calibrator after", session="A")
    bench.record("dwell.wav", turning(SPEEDS[0], 6.0, 1), fan="Sedge", sample="s1", session="A", recording="dwell",
                 duty=100)  # fmt: skip
    bench.finish()
    with bench.lab() as lab, pytest.raises(NotPossible, match="another gain"):
        result_of(lab, only(reduced(lab)))


def test_without_a_calibrator_a_stated_sensitivity_stands_in_wider_and_marked(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.record(
        "dwell.wav", turning(SPEEDS[0], 6.0, 1), fan="Sedge", sample="s1", recording="dwell", duty=100
    )
    stated = RIG.replace('self_noise = "12 dBA"', f'self_noise = "12 dBA"\nfull_scale = "{FULL_SCALE} dB"')
    bench.finish(stated)
    with bench.lab() as lab:
        sound = loaded(lab, reduced(lab))
        assert sound.dwells[0].level == pytest.approx(fan_level(SPEEDS[0]), abs=0.1)
        assert {"not calibrated that day", "no background recorded"} <= set(sound.marks)
        assert sound.levels.rows().std(axis=0).max() > 0.9


def test_neither_calibrator_nor_sensitivity_is_said_in_words(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.record(
        "dwell.wav", turning(SPEEDS[0], 6.0, 1), fan="Sedge", sample="s1", recording="dwell", duty=100
    )
    bench.finish()
    with bench.lab() as lab, pytest.raises(NotPossible, match="no recording of a calibrator"):
        result_of(lab, only(reduced(lab)))


def test_obstacles_and_places_make_sounds_of_their_own(small: Bench) -> None:
    told = {"fan": "Sedge", "sample": "s1", "mounting": "Sedge-1", "session": "A", "recording": "dwell"}
    small.record("rad.wav", turning(SPEEDS[0], 6.0, 9), **told, duty=100, obstacle="rad27")
    small.finish()
    with small.lab() as lab:
        graph = reduced(lab)
        assert sorted((each.obstacle, each.subject) for each in graph.sounding("Sedge")) == [
            ("", "Sedge-1, in free air"), ("rad27", "Sedge-1, with rad27")
        ]  # fmt: skip
        assert {each.mounting for each in graph.sounds} == {"Sedge-1"}


def test_day_calibrators_without_a_session_belong_to_the_rigs_day(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    bench.record("cal.wav", calibrator(), recording="calibrator")
    bench.record("room.wav", background(14.0, 6.0), recording="background")
    bench.record(
        "dwell.wav", turning(SPEEDS[0], 6.0, 1), fan="Sedge", sample="s1", recording="dwell", duty=100
    )
    bench.record(
        "other.wav", turning(SPEEDS[0], 6.0, 2), fan="Rush", sample="s1", recording="dwell", duty=100
    )
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        assert len(graph.sounds) == 2
        for each in graph.sounds:
            assert [len(each.calibrators), len(each.backgrounds)] == [1, 1]


# --- tables -------------------------------------------------------------------------------------------------------

SHEET = "fan,speed [rpm],level [dBA],background [dBA],distance [m]\n" + "".join(
    f"Sedge,{rpm},{34 + 53 * np.log10(rpm / 1800):.1f},16.0,0.5\n" for rpm in (700, 900, 1200, 1500, 1800)
)


def test_the_sheet_of_day_one_alone_gives_a_curve(tmp_path: Path) -> None:
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / "levels.csv").write_text(SHEET)
    with Bench(tmp_path).lab() as lab:
        graph = reduced(lab)
        sound = loaded(lab, graph)
        assert [round(each.speed * 60) for each in sound.dwells] == [900, 1200, 1500, 1800]
        assert "no louder than the background" in facts(lab, graph)[0]["failed"]  # 12 dBA in a room of 16 dBA
        assert sound.dwells[0].is_bound  # 18 dBA in a room of 16 dBA: at most
        assert sound.dwells[-1].level == pytest.approx(34.0, abs=0.1)
        assert sound.dwells[-1].speed_from is SpeedFrom.TOLD
        assert {"levels of a meter", "not calibrated that day"} <= set(sound.marks)
        assert sound.phons is None
        assert sound.geometry.distance == 0.5


def test_tables_alone_go_the_same_way(tmp_path: Path) -> None:
    levels = [34.0 + 53.0 * np.log10((700 + 1100 * i / 60) / 1800) for i in range(61)]
    nominal = (20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000,
               2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000, 20000)  # fmt: skip
    tables = {
        "ramp.csv": "time [s],LAF [dBA],speed [rpm]\n"
        + "".join(f"{i},{level:.2f},{700 + 1100 * i / 60:.1f}\n" for i, level in enumerate(levels)),
        "bands.csv": "frequency [Hz],level [dB]\n"
        + "".join(f"{f},{20 - i * 0.3:.1f}\n" for i, f in enumerate(nominal)),
        "runs.csv": "file,fan,sample,mounting,recording,duty [%],tachometer [rpm]\n"
        "ramp.csv,Sedge,s1,Sedge-1,ramp up,,\nbands.csv,Sedge,s1,Sedge-1,dwell,80,1500\n",
    }
    (tmp_path / "bench").mkdir()
    for name, text in tables.items():
        (tmp_path / "bench" / name).write_text(text)
    with Bench(tmp_path).lab() as lab:
        graph = reduced(lab)
        sound = loaded(lab, graph)
        (dwell,) = sound.dwells
        assert dwell.speed == pytest.approx(25.0)
        assert dwell.speed_from is SpeedFrom.TACHOMETER
        assert dwell.loudness is not None
        assert sound.phons is not None
        at_top = sound.levels.rows(speeds=np.array([29.0]))[0, 0]
        assert at_top == pytest.approx(34.0 + 53.0 * np.log10(29.0 / 30.0), abs=0.3)
        assert {"levels of a meter", "no background recorded", "distance not told"} <= set(sound.marks)
        assert sound.settings == {"duty": ((0.8, dwell.speed),)}


def test_a_lab_with_airflow_only_has_no_sounds_and_the_same_keys(tmp_path: Path) -> None:
    text = "flow [m3/h],pressure [Pa],speed [rpm]\n" + "".join(
        f"{60 * i / 11:.3f},{30 * (1 - (i / 11) ** 2):.4f},1500\n" for i in range(12)
    )
    (tmp_path / "bench" / "sedge" / "s1").mkdir(parents=True)
    (tmp_path / "bench" / "sedge" / "s1" / "100pct.csv").write_text(text)
    (tmp_path / "bench" / "runs.csv").write_text(
        "file,fan,sample,duty [%]\nsedge/s1/100pct.csv,Sedge,s1,100\n"
    )
    with Bench(tmp_path).lab() as lab:
        graph = graph_of(lab)
        assert graph.sounds == ()
        assert len(graph.curves) == 1
        done = reduce_lab(lab, graph, workers=1)
        assert (done.made, done.sounds, done.recordings) == (1, 0, 0)
