"""Bringing in sound: recordings by their names, run tables and --as; tables of levels; what is asked and refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.book import Placed, open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.watch.still_files import STILL, STILL_RECORDING, StillFiles
from stillroom.records.settings import template
from stillroom.store import folder, originals
from stillroom.store.lab import Lab

RATE = 48_000
RIGS = """
[rig.chamber]
kind = "airflow"
accuracy = "± 3 % of reading"

[rig.quiet]
kind = "sound"
sound_pressure = "mic-1"
calibrator_level = "cal-1"
distance = "50 cm"
angle = "45 °"
height = "1.2 m"
microphone_side = "inlet"
holder = "soft bands"
room_from = "125 Hz"

[instrument.mic-1]
quantity = "sound_pressure"
self_noise = "16 dBA"
full_scale = "120.3 dB"

[instrument.cal-1]
quantity = "calibrator_level"
calibrator_level = "94 dB"
"""
SWEEP = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n" + "\n".join(
    f"{10 * i},{30 - 0.3 * i * i:.2f},1500" for i in range(9)
)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def record(path: Path, channels: int = 1, seconds: float = 0.1, subtype: str = "PCM_24") -> Path:
    """A short recording whose samples hang on its name, so that no two are alike."""
    path.parent.mkdir(parents=True, exist_ok=True)
    random = np.random.default_rng(sum(str(path).encode()))
    soundfile.write(
        path, 0.01 * random.standard_normal((int(RATE * seconds), channels)), RATE, subtype=subtype
    )
    return path


def placed(lab: Lab) -> dict[str, Placed]:
    return {each.taken.file.partition("/")[2]: each for each in place_all(open_book(lab))}


def a_day(base: Path) -> Path:
    """A day in the quiet room: calibrator and background around two fans, with ramps."""
    for name in ("cal94-before", "cal94-after", "bg-before", "bg-after"):
        record(base / f"{name}.wav")
    for fan in ("bracken", "sedge"):
        for duty in (40, 60):
            record(base / fan / "s1" / f"{duty}pct.wav")
        record(base / fan / "s1" / "ramp-up.flac")
        record(base / fan / "s1" / "ramp-down.flac")
        record(base / fan / "s1" / "bg.wav")
    return base


def test_a_day_of_recordings_is_told_by_its_names(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path / "day" / "rigs.toml", RIGS)
    asked: list[str] = []

    def yes(question: str) -> str:
        asked.append(question)
        return "y"

    added = bring_in(lab, [a_day(tmp_path / "day")], {}, ask=yes)
    assert not added.bad
    assert len(added.new) == 14
    assert len(asked) == 1
    assert "{fan}/s{sample}/{duty}pct" in asked[0], "inferred from the dwells alone"
    found = placed(lab)
    assert {each.rig for each in found.values()} == {"quiet"}, "the rig for sound is the default of sound"
    assert {each.channel for each in found.values()} == {1}
    for name, recording in {
        "bracken/s1/40pct.wav": "dwell", "bracken/s1/ramp-up.flac": "ramp up", "sedge/s1/ramp-down.flac": "ramp down",
        "bracken/s1/bg.wav": "background", "bg-before.wav": "background before", "cal94-after.wav": "calibrator after",
    }.items():  # fmt: skip
        assert found[name].recording == recording, name
    dwell, ramp, room = (found[f"sedge/s1/{name}"] for name in ("60pct.wav", "ramp-up.flac", "bg.wav"))
    assert (dwell.fan, dwell.sample, dwell.setting, dwell.setting_kind) == ("sedge", "s1", 0.6, "duty")
    assert (ramp.fan, ramp.sample, ramp.setting) == ("sedge", "s1", None)
    assert dwell.mounting == ramp.mounting == room.mounting != ""
    assert dwell.mounting.endswith("-sound"), "no mounting on the chamber has this name"
    for name in ("cal94-before.wav", "bg-before.wav"):
        assert (found[name].fan, found[name].mounting, found[name].is_obstacle) == ("", "", False)
    assert found["cal94-before.wav"].taken.found == {"recording": "calibrator before", "calibrator": "94.0"}
    layout = dwell.taken.layout
    assert (layout["audio"], layout["rate"], layout["channels"], layout["subtype"], layout["frames"]) == (
        1, RATE, 1, "PCM_24", 4800,
    )  # fmt: skip
    assert (dwell.taken.content, dwell.taken.quantities, dwell.taken.points) == (
        "sound recording", ("sound_pressure",), 4800,
    )  # fmt: skip
    book = open_book(lab)
    rig, microphone = book.rigs["quiet"], book.instruments["mic-1"]
    assert (rig.distance, rig.height, rig.microphone_side, rig.room_from) == (0.5, 1.2, "inlet", 125.0)
    assert rig.angle == pytest.approx(np.pi / 4)
    assert (microphone.self_noise, microphone.full_scale) == (16.0, 120.3)
    assert book.instruments["cal-1"].calibrator_level == 94.0


def test_the_same_again_changes_nothing_and_what_is_told_then_counts(lab: Lab, tmp_path: Path) -> None:
    day = a_day(tmp_path / "day")
    names = {"names": "{fan}/s{sample}/{duty}pct"}
    bring_in(lab, [day], names)
    again = bring_in(lab, [day], {})
    assert not again.changed
    assert len(again.known) == 14
    later = bring_in(lab, [day], {"distance": "50 cm", "microphone_side": "Inlet"})
    assert len(later.again) == 14
    said = placed(lab)["bracken/s1/40pct.wav"].taken.said or {}
    assert (said["distance"], said["microphone_side"], said["duty"]) == ("0.5", "inlet", "0.4")


def test_sound_never_comes_into_the_graph_of_airflow(lab: Lab, tmp_path: Path) -> None:
    base = tmp_path / "both"
    put(base / "rigs.toml", RIGS)
    put(base / "bracken" / "s1" / "60pct.csv", SWEEP)
    record(base / "bracken" / "s1" / "60pct.wav")
    record(base / "cal94.wav")
    bring_in(lab, [base], {"names": "{fan}/s{sample}/{duty}pct"})
    found = placed(lab)
    assert found["bracken/s1/60pct.csv"].rig == "chamber"
    assert found["bracken/s1/60pct.wav"].rig == "quiet"
    graph = build_graph(open_book(lab))
    assert [run.placed.taken.file for node in graph.curves for run in node.runs] == [
        "both/bracken/s1/60pct.csv"
    ]
    assert not [each for each, _ in graph.unplaced if each.is_sound]


def test_several_channels_are_asked_for_and_never_guessed(lab: Lab, tmp_path: Path) -> None:
    base = tmp_path / "takes"
    record(base / "bracken" / "s1" / "60pct.wav", channels=2)
    record(base / "bracken" / "s1" / "40pct.wav", channels=2)
    names = {"names": "{fan}/s{sample}/{duty}pct"}
    added = bring_in(lab, [base], names)
    assert [each.thing for each in added.bad] == ["channel", "channel"]
    assert "nobody told which is the microphone" in added.bad[0].found
    assert not placed(lab)
    asked: list[str] = []

    def second(question: str) -> str:
        asked.append(question)
        return "2"

    assert not bring_in(lab, [base], names, ask=second).bad
    assert len(asked) == 1, "once for all recordings of so many channels"
    assert {each.channel for each in placed(lab).values()} == {2}
    bring_in(lab, [base], {"channel": "1"})
    assert {each.channel for each in placed(lab).values()} == {1}
    wrong = bring_in(lab, [base], {"channel": "3"})
    assert {each.found for each in wrong.bad} == {"channel 3, in a recording of 2 channels"}
    mono = record(base / "bracken" / "s1" / "80pct.wav")
    bring_in(lab, [base], {"channel": "2"})
    assert placed(lab)["bracken/s1/80pct.wav"].channel == 1, "a single channel is the microphone's"
    mono.unlink()


def test_a_channel_by_name_and_by_the_run_table(lab: Lab, tmp_path: Path) -> None:
    base = tmp_path / "takes"
    record(base / "bracken_60pct_ch2.wav", channels=3)
    bring_in(lab, [base], {"names": "{fan}_{duty}pct_ch{channel}"})
    assert placed(lab)["bracken_60pct_ch2.wav"].channel == 2
    record(base / "take1.wav", channels=3)
    put(
        base / "runs.csv",
        "file,fan,sample,recording,channel,speed from [rpm],speed to [rpm],distance [cm],microphone side\n"
        "take1.wav,Sedge,1,ramp up,3,500,1500,50,outlet\n",
    )
    assert not bring_in(lab, [base], {}).bad
    row = placed(lab)["take1.wav"]
    assert (row.fan, row.recording, row.channel) == ("Sedge", "ramp up", 3)
    assert row.row is not None
    assert (row.row.speed_from, row.row.distance) == (pytest.approx(500 / 60), 0.5)


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("ramp,1,0.5", "'ramp'"),
        ("dwell,0,0.5", "'0'"),
        ("dwell,1,50", "0.02 to 20 m"),
    ],
)
def test_a_run_table_that_nobody_can_mean(lab: Lab, tmp_path: Path, cells: str, words: str) -> None:
    table = put(tmp_path / "runs.csv", f"file,fan,recording,channel,distance [m]\ntake1.wav,Sedge,{cells}\n")
    with pytest.raises(StillroomError) as caught:
        bring_in(lab, [table], {})
    assert words in str(caught.value)
    assert "line 2" in str(caught.value)


@pytest.mark.parametrize(
    ("key", "value"),
    [("distance", "50"), ("distance", "5 Hz"), ("recording", "song"), ("channel", "two"), ("calibrator", "12"),
     ("angle", "400"), ("microphone_side", "above"), ("tachometer", "fast")],
)  # fmt: skip
def test_what_nobody_can_mean_is_refused(lab: Lab, tmp_path: Path, key: str, value: str) -> None:
    take = record(tmp_path / "take.wav")
    with pytest.raises(BadInput) as caught:
        bring_in(lab, [take], {"fan": "Sedge", key: value})
    assert "--as" in caught.value.place
    assert not placed(lab)


def test_a_ramp_has_to_tell_its_direction(lab: Lab, tmp_path: Path) -> None:
    take = record(tmp_path / "takes" / "sedge" / "ramp.wav")
    with pytest.raises(BadInput, match="rises or falls"):
        bring_in(lab, [take], {"fan": "Sedge"})
    bring_in(lab, [take], {"fan": "Sedge", "recording": "ramp down"})
    assert next(iter(placed(lab).values())).recording == "ramp down"


def test_flat_names_with_what_was_recorded_between(lab: Lab, tmp_path: Path) -> None:
    base = tmp_path / "flat"
    for name in ("sedge_s2_1200rpm", "sedge_s2_900rpm", "sedge_s2_ramp-up", "sedge_s2_bg_after", "cal114"):
        record(base / f"{name}.wav")
    bring_in(lab, [base], {}, ask=lambda _: "y")
    found = placed(lab)
    assert (found["sedge_s2_1200rpm.wav"].fan, found["sedge_s2_1200rpm.wav"].setting) == ("sedge", 20.0)
    assert (found["sedge_s2_ramp-up.wav"].fan, found["sedge_s2_ramp-up.wav"].sample) == ("sedge", "s2")
    assert (found["sedge_s2_bg_after.wav"].fan, found["sedge_s2_bg_after.wav"].recording) == (
        "sedge",
        "background after",
    )
    assert (found["cal114.wav"].fan, found["cal114.wav"].taken.found) == (
        "", {"recording": "calibrator", "calibrator": "114.0"},
    )  # fmt: skip


def test_the_day_of_a_recording(lab: Lab, tmp_path: Path) -> None:
    base = tmp_path / "takes"
    with soundfile.SoundFile(base.parent / "x.flac", "w", RATE, 1, "PCM_24", format="FLAC") as made:
        made.date = "2026-05-04T10:20:30"
        made.write(np.full(4800, 0.01))
    base.mkdir()
    (base.parent / "x.flac").rename(base / "sedge_60pct_2026-05-01.flac")
    record(base / "sedge_40pct_2026-05-02.wav")
    bring_in(lab, [base], {"names": "{fan}_{duty}pct_{date}"})
    found = placed(lab)
    own = found["sedge_60pct_2026-05-01.flac"]
    assert (own.taken.measured, own.date) == ("2026-05-04T10:20:30", "2026-05-04"), (
        "the file's own clock comes first"
    )
    assert found["sedge_40pct_2026-05-02.wav"].date == "2026-05-02"


@pytest.mark.parametrize("name", ["cut.wav", "text.wav", "empty.flac"])
def test_a_bad_recording_is_named_and_the_others_come_in(lab: Lab, tmp_path: Path, name: str) -> None:
    base = tmp_path / "takes"
    whole = record(base / "sedge" / "s1" / "60pct.wav").read_bytes()
    bad = base / "sedge" / "s1" / name
    bad.write_bytes({"cut.wav": whole[:-100], "text.wav": b"flow,p\n1,2\n", "empty.flac": b""}[name])
    added = bring_in(lab, [base], {"fan": "Sedge", "duty": "60"})
    assert [Path(each.place.split(",")[0]).name for each in added.bad] == [name]
    assert len(added.new) == 1


def test_a_preview_shows_format_length_and_channels(lab: Lab, tmp_path: Path) -> None:
    take = record(tmp_path / "take.wav", channels=2, seconds=1.5, subtype="PCM_16")
    added = bring_in(lab, [take], {"fan": "Sedge", "speed": "900", "channel": "2"}, preview=True)
    assert added.understood["take.wav"] == ("sound recording: WAV, 48 kHz, 16 bits, 2 channels",)
    assert added.parts["take.wav"] == ("1.5 s, 900 rpm, fan Sedge, channel 2",)
    assert not placed(lab)


SHEET = (
    "fan,speed [rpm],level [dBA],background [dBA],distance [m]\n"
    "Bracken,900,24.1,17.2,0.5\nBracken,1200,29.3,,0.5\nSedge,900,25,17.4,0.5\nSedge,900,19,17.4,1\n"
)


def test_a_sheet_of_the_first_day_is_a_run_for_each_fan(lab: Lab, tmp_path: Path) -> None:
    bring_in(lab, [put(tmp_path / "levels.csv", SHEET)], {})
    runs = place_all(open_book(lab))
    assert [(each.fan, each.recording, each.taken.points) for each in runs] == [
        ("Bracken", "dwell", 2), ("Sedge", "dwell", 1), ("Sedge", "dwell", 1),
    ]  # fmt: skip
    assert [(each.taken.found or {})["distance"] for each in runs] == ["0.5", "0.5", "1.0"]
    assert {each.taken.content for each in runs} == {"sheet of sound levels"}
    assert not build_graph(open_book(lab)).curves


def test_the_title_of_a_sheet_of_fans_is_no_fan(lab: Lab, tmp_path: Path) -> None:
    for fan in ("Bracken", "Sedge"):
        put(tmp_path / "exports" / f"{fan}.csv", SWEEP)
    put(tmp_path / "exports" / "sound sheet.csv", SHEET)
    added = bring_in(lab, [tmp_path / "exports"], {"names": "{fan}", "accuracy": "± 3 % of reading"})
    assert added.bad == ()
    heard = [each.fan for each in place_all(open_book(lab)) if each.taken.content == "sheet of sound levels"]
    assert heard == ["Bracken", "Sedge", "Sedge"]


def test_a_sheet_named_by_a_fan_holds_no_other(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path / "exports" / "Bracken.csv", SHEET)
    added = bring_in(lab, [tmp_path / "exports"], {"names": "{fan}"})
    assert "Bracken in its name and Sedge in the file" in added.bad[0].sentence()


def test_what_the_run_table_says_otherwise_than_the_name_or_as_is_said(lab: Lab, tmp_path: Path) -> None:
    record(tmp_path / "x" / "cal94-before.wav")
    put(tmp_path / "runs.csv", "file,fan,sample,recording,duty [%]\nx/cal94-before.wav,Sedge,s1,dwell,60\n")
    added = bring_in(lab, [tmp_path / "runs.csv", tmp_path / "x"], {"fan": "Rush", "duty": "50"})
    name = "x/cal94-before.wav"
    assert f"{name}: fan Sedge by the run table, which counts; Rush by --as" in added.marks
    assert f"{name}: 60% by the run table, which counts; 50% by --as" in added.marks
    assert f"{name}: dwell by the run table, which counts; its name says calibrator before" in added.marks


def test_a_microphone_that_the_lab_does_not_know_is_refused(lab: Lab, tmp_path: Path) -> None:
    record(tmp_path / "x" / "a.wav")
    bring_in(lab, [put(tmp_path / "rigs.toml", RIGS)], {})
    told = {"fan": "Sedge", "duty": "60", "microphone": "mic-9"}
    with pytest.raises(StillroomError, match=r"microphone in x/a\.wav: found 'mic-9'.*mic-1"):
        bring_in(lab, [tmp_path / "x"], told).refuse_bad()
    table = put(tmp_path / "runs.csv", "file,fan,duty [%]\nx/a.wav,Sedge,60\n")
    assert bring_in(lab, [table, tmp_path / "x"], {"microphone": "mic-9"}).bad, "the row tells none"
    assert bring_in(lab, [tmp_path / "x"], told | {"microphone": "mic-1"}).new


def test_one_recording_cannot_be_the_calibrator_before_and_after(lab: Lab, tmp_path: Path) -> None:
    record(tmp_path / "x" / "cal94-after.wav")
    (tmp_path / "x" / "cal94-before.wav").write_bytes((tmp_path / "x" / "cal94-after.wav").read_bytes())
    added = bring_in(lab, [tmp_path / "x"], {})
    assert any(
        mark.startswith("x/cal94-before.wav is the same recording as x/cal94-after.wav")
        for mark in added.marks
    )


def test_tables_of_levels_may_be_longer_than_a_sweep(lab: Lab, tmp_path: Path) -> None:
    rows = "\n".join(f"{0.125 * i:g},{30 + 0.01 * (i % 7):g}" for i in range(25_000))
    bring_in(
        lab, [put(tmp_path / "laf.csv", f"time [s],LAF [dB]\n{rows}\n")], {"fan": "Sedge", "speed": "900"}
    )
    (run,) = place_all(open_book(lab))
    assert (run.taken.content, run.taken.points, run.setting) == ("series of sound levels", 25_000, 15.0)


def test_rows_of_bands_are_dwells(lab: Lab, tmp_path: Path) -> None:
    bands = "200 Hz,250 Hz,315 Hz,400 Hz,500 Hz,630 Hz,800 Hz,1 kHz"
    rows = "Sedge,40,,1,2,3,4,5,6,7,8\nSedge,60,,2,3,4,5,6,7,8,9\n,,background,0,0,0,0,0,0,0,0\n"
    text = f"fan,duty [%],recording,{bands}\n{rows}"
    bring_in(lab, [put(tmp_path / "bands.csv", text)], {"unit:bands": "dB"})
    runs = place_all(open_book(lab))
    assert [(each.fan, each.setting, each.recording) for each in runs][:2] == [
        ("Sedge", 0.4, "dwell"), ("Sedge", 0.6, "dwell"),
    ]  # fmt: skip
    assert (runs[2].recording, runs[2].setting) == ("background", None)


def test_a_large_file_is_kept_in_blocks(tmp_path: Path) -> None:
    drawn: list[int] = []

    def blocks() -> Any:
        for number in range(40):
            drawn.append(number)
            yield bytes([number]) * 2**16

    data = b"".join(blocks())
    drawn.clear()
    digest = originals.digest_of(data)
    place = originals.keep(tmp_path, blocks, "long.wav", "2026-05-04", digest)
    assert originals.path_of(tmp_path, place, digest).read_bytes() == data
    with pytest.raises(StillroomError, match="other bytes than a moment ago"):
        originals.keep(tmp_path, lambda: [b"changed"], "other.wav", "2026-05-04", digest)
    assert not [
        each for each in (tmp_path / "originals").rglob("*") if "other" in each.name or each.suffix == ".part"
    ]
    path = tmp_path / place
    path.chmod(0o644)
    path.write_bytes(data[:-1])
    with pytest.raises(StillroomError, match="bytes that differ"):
        originals.path_of(tmp_path, place, digest)


def test_a_recording_that_is_still_written_is_waited_for(tmp_path: Path) -> None:
    now = [0.0]
    files = StillFiles(tmp_path, lambda: now[0])
    path = record(tmp_path / "take.wav")
    assert not list(files.ready())
    now[0] = STILL + 0.5
    assert not list(files.ready()), "recorders write in bursts"
    now[0] = STILL_RECORDING + 0.5
    (rested,) = files.ready()
    assert rested.data == path, "it isn't read into memory"
    with path.open("ab") as file:
        file.write(b"more")
    assert not list(files.ready())
