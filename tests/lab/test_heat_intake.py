"""Bringing in heat logs: by folder and file names, run tables and --as; clocks, sessions, baths; what is asked."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.book import Placed, open_book, place_all
from stillroom.lab.intake.checked import Word
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.intake.intake import bring_in
from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source
from stillroom.records.acts import Step
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

BEGIN = dt.datetime(2026, 11, 26, 9, 15, 3)
NAMES = {"names": "{fan}/s{sample}/{logger}"}
RIGS = """
[rig.chamber]
kind = "airflow"
accuracy = "± 3 % of reading"

[rig.heat-1]
kind = "heat"
radiator = "rad27"
nominal_power = "300 W"
"""
SWEEP = "Airflow [m³/h],Static pressure [Pa],Speed [rpm],Duty [%]\n" + "\n".join(
    f"{10 * i},{30 - 0.3 * i * i:.2f},1500,60" for i in range(9)
)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def temperatures(count: int = 600, begin: dt.datetime = BEGIN, head: str = "") -> str:
    """A run of ten minutes: heater, hot probe and two probes of the air, once a second."""
    random = np.random.default_rng(count)
    at = np.arange(count)
    hot = 35.0 - 10.0 * np.exp(-at / 100.0) + 0.02 * random.standard_normal(count)
    lines = [
        f"{begin + dt.timedelta(seconds=int(i))},{300.0 + 0.1 * (i % 3):.1f},{hot[i]:.3f},22.0{i % 7},22.1{i % 5}"
        for i in at
    ]
    return "\n".join([head or "Time,Heater [W],Hot [°C],Air in 1 [°C],Air in 2 [°C]", *lines]) + "\n"


def drive(count: int = 300, begin: dt.datetime = BEGIN, speed: int = 1200) -> str:
    lines = [f"{begin + dt.timedelta(seconds=2 * i)},{speed + i % 3},45.0" for i in range(count)]
    return "\n".join(["Time,Speed [rpm],Duty [%]", *lines]) + "\n"


def room(count: int = 20, begin: dt.datetime = BEGIN) -> str:
    lines = [f"{begin + dt.timedelta(seconds=60 * i)},21.5,45.2,1013.2" for i in range(count)]
    return "\n".join(["Time,Temperature [°C],RH [%],Barometer [hPa]", *lines]) + "\n"


def placed(lab: Lab) -> dict[str, Placed]:
    return {each.taken.file.partition("/")[2]: each for each in place_all(open_book(lab))}


def a_run(base: Path) -> Path:
    put(base / "in/Sedge/s1/temps.csv", temperatures())
    put(base / "in/Sedge/s1/drive.csv", drive())
    put(base / "in/rigs.toml", RIGS)
    return base / "in"


def test_two_loggers_of_one_fan(tmp_path: Path, lab: Lab) -> None:
    added = bring_in(lab, [a_run(tmp_path)], NAMES)
    assert len(added.new) == 2
    found = placed(lab)
    temps, other = found["Sedge/s1/temps.csv"], found["Sedge/s1/drive.csv"]
    assert [(each.is_heat, each.is_sound, each.is_obstacle) for each in (temps, other)] == [
        (True, False, False)
    ] * 2
    assert (temps.fan, temps.sample, temps.rig, temps.logger) == ("Sedge", "s1", "heat-1", "temps")
    assert (temps.mounting, other.mounting) == ("Sedge-s1-2026-11-26-heat",) * 2
    assert temps.taken.content == "heat log"
    assert (temps.taken.measured, temps.taken.ended) == ("2026-11-26T09:15:03", "2026-11-26T09:25:02")
    assert (other.taken.measured, other.taken.ended) == ("2026-11-26T09:15:03", "2026-11-26T09:25:01")
    assert set(temps.taken.quantities) == {
        *("time", "heater_power", "hot_temperature", "air_in_temperature", "air_in_temperature_2")
    }
    assert not any("no setting" in each for each in added.marks)


def test_a_log_is_read_again_as_it_came_in(tmp_path: Path, lab: Lab) -> None:
    bring_in(lab, [a_run(tmp_path)], NAMES)
    taken = placed(lab)["Sedge/s1/temps.csv"].taken
    recording = read(Source.of_path(lab.path / taken.place), Layout.from_dict(taken.layout))
    assert recording.columns["time"] == pytest.approx(np.arange(600.0))
    assert tuple(recording.columns) == taken.quantities
    assert recording.log is not None
    assert recording.log.begin == taken.measured


def test_the_preview_says_channels_span_gaps_and_clock(tmp_path: Path, lab: Lab) -> None:
    base = a_run(tmp_path)
    lines = drive().splitlines()
    put(base / "Sedge/s1/drive.csv", "\n".join([*lines[:100], *lines[150:]]) + "\n")
    shown = bring_in(lab, [base], NAMES, preview=True)
    (words,) = shown.parts["in/Sedge/s1/temps.csv"]
    assert words.startswith("four channels, 10 min in steps of 1 s, no gaps, clock: local date and time")
    assert "fan Sedge" in words
    assert "measured 2026-11-26T09:15:03" in words
    assert "no setting told" not in words
    (words,) = shown.parts["in/Sedge/s1/drive.csv"]
    assert "a gap of 102 s at 3 min" in words
    assert any(
        "settings in time by the column 'Duty [%]'" in each
        for each in shown.understood["in/Sedge/s1/drive.csv"]
    )


def test_a_run_table_tells_session_logger_and_offset(tmp_path: Path, lab: Lab) -> None:
    base = a_run(tmp_path)
    table = (
        "file,fan,sample,mounting,session,logger,clock offset [s],coolant filled\n"
        "temps.csv,Sedge,s1,m1,day-1,TL-8,,2026-03-01\n"
        "drive.csv,,,,day-1,DR-2,-60,\n"
    )
    put(base / "runs.csv", table)
    bring_in(lab, [base], {})
    found = placed(lab)
    temps, other = found["Sedge/s1/temps.csv"], found["Sedge/s1/drive.csv"]
    assert (temps.session, temps.logger, temps.clock_offset, temps.mounting) == ("day-1", "TL-8", None, "m1")
    assert (other.session, other.logger, other.clock_offset, other.fan) == ("day-1", "DR-2", -60.0, "")
    assert temps.told("coolant_filled") == "2026-03-01"


def test_what_is_told_by_as(tmp_path: Path, lab: Lab) -> None:
    path = put(tmp_path / "drive.csv", drive())
    put(tmp_path / "rigs.toml", RIGS)
    said = {
        "fan": "Sedge",
        "session": "day-1",
        "logger": "DR-2",
        "clock_offset": "1.5 min",
        "coolant_filled": "2026-03-01",
    }
    bring_in(lab, [tmp_path / "rigs.toml", path], said)
    (found,) = place_all(open_book(lab))
    assert (found.fan, found.session, found.logger, found.clock_offset) == ("Sedge", "day-1", "DR-2", 90.0)
    bring_in(lab, [path], {"clock_offset": "-60"})
    (found,) = place_all(open_book(lab))
    assert found.clock_offset == -60.0


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("clock_offset", "soon"),
        ("clock_offset", "60 K"),
        ("clock_offset", "500 d"),
        ("coolant_filled", "1.3.2026"),
        ("what", "ice"),
    ],
)
def test_what_nobody_can_mean_is_refused(tmp_path: Path, lab: Lab, key: str, value: str) -> None:
    path = put(tmp_path / "drive.csv", drive())
    with pytest.raises(StillroomError) as caught:
        bring_in(lab, [path], {"fan": "Sedge", key: value})
    assert caught.value.place == "--as"
    assert caught.value.found == repr(value)


def test_what_only_heat_has_is_said_of_no_sweep(tmp_path: Path, lab: Lab) -> None:
    base = a_run(tmp_path)
    put(base / "Sedge/s1/sweep.csv", SWEEP)
    bring_in(lab, [base], NAMES | {"session": "day-1", "clock_offset": "5"})
    found = placed(lab)
    assert found["Sedge/s1/temps.csv"].session == "day-1"
    assert "session" not in (found["Sedge/s1/sweep.csv"].taken.said or {})
    assert (found["Sedge/s1/sweep.csv"].rig, found["Sedge/s1/temps.csv"].rig) == ("chamber", "heat-1")


def test_a_bath_by_its_name_and_by_as(tmp_path: Path, lab: Lab) -> None:
    put(tmp_path / "rigs.toml", RIGS)
    first = put(tmp_path / "bath-2026-11.csv", temperatures(60))
    second = put(tmp_path / "probes.csv", temperatures(90))
    bring_in(lab, [tmp_path / "rigs.toml", first], {})
    bring_in(lab, [second], {"what": "Bath"})
    found = place_all(open_book(lab))
    assert [(each.is_bath, each.fan, each.rig) for each in found] == [(True, "", "heat-1")] * 2


def test_a_log_of_the_room_names_no_fan(tmp_path: Path, lab: Lab) -> None:
    base = a_run(tmp_path)
    put(base / "room/s1/climate.csv", room())
    added = bring_in(lab, [base], NAMES)
    assert added.bad == ()
    assert placed(lab)["room/s1/climate.csv"].fan == ""


def test_a_hot_probe_without_a_fan_is_asked_for(tmp_path: Path, lab: Lab) -> None:
    path = put(tmp_path / "temps.csv", temperatures())
    with pytest.raises(BadInput):
        bring_in(lab, [path], {})
    assert bring_in(lab, [path], {"session": "day-1"}).new == ("temps.csv",)


CHANNELS = "Time,CH1 [W],CH2 [°C],CH3 [°C],CH4 [°C]"


def test_channels_are_asked_once_and_remembered(tmp_path: Path, lab: Lab) -> None:
    asked: list[str] = []

    def ask(words: str) -> str:
        asked.append(words)
        answers = {"hot probe": "CH2", "of the air": "CH3, ch4", "heater's power": "CH1"}
        return next((answer for part, answer in answers.items() if part in words), "")

    put(tmp_path / "in/Sedge/s1/a.csv", temperatures(600, head=CHANNELS))
    put(tmp_path / "in/Sedge/s1/b.csv", temperatures(500, head=CHANNELS))
    bring_in(lab, [tmp_path / "in"], NAMES, ask=ask)
    about = [each for each in asked if "column" in each]
    assert len(about) == 3  # no temperature is left for the liquid
    assert "which column is the hot probe: CH2 [°C], CH3 [°C] and CH4 [°C]?" in about[0]
    found = placed(lab)
    for name in ("a", "b"):
        assert set(found[f"Sedge/s1/{name}.csv"].taken.quantities) == {
            *("time", "heater_power", "hot_temperature", "air_in_temperature", "air_in_temperature_2")
        }
    later = put(tmp_path / "in/Sedge/s1/c.csv", temperatures(400, head=CHANNELS))
    bring_in(lab, [later], {"fan": "Sedge"})  # nobody to ask
    assert (
        "hot_temperature"
        in {each.taken.file: each for each in place_all(open_book(lab))}["c.csv"].taken.quantities
    )


def test_what_is_none_of_the_channels_is_asked_once(tmp_path: Path, lab: Lab) -> None:
    asked: list[str] = []

    def ask(words: str) -> str:
        asked.append(words)
        return ""

    put(tmp_path / "rigs.toml", RIGS)
    head = "Time,Speed [rpm],Board [°C]"
    for name, count in (("a.csv", 60), ("b.csv", 70)):
        lines = [f"{BEGIN + dt.timedelta(seconds=2 * i)},1200,40.{i % 10}" for i in range(count)]
        path = put(tmp_path / name, "\n".join([head, *lines]) + "\n")
        added = bring_in(lab, [tmp_path / "rigs.toml", path], {}, ask=ask)
        assert not any("nobody tells what it measures" in each for each in added.marks)
    assert (
        len([each for each in asked if "Board" in each]) == 4
    )  # hot, air, liquid in and out, of the first file
    for each in place_all(open_book(lab)):
        assert set(each.taken.quantities) == {"time", "speed"}


def test_channels_told_by_as(tmp_path: Path, lab: Lab) -> None:
    path = put(tmp_path / "a.csv", temperatures(head=CHANNELS))
    with pytest.raises(BadInput, match="columns that name no quantity: 'CH1"):
        bring_in(lab, [path], {"fan": "Sedge"})
    said = {"column:CH1": "heater_power", "column:CH2": "hot_temperature", "column:CH3": "air_in_temperature"}
    added = bring_in(lab, [path], {"fan": "Sedge"} | said)
    assert any("nobody tells what it measures: CH4" in each for each in added.marks)
    added = bring_in(lab, [path], {"fan": "Sedge"} | said | {"column:CH4": "none"})
    assert not any("nobody tells what it measures" in each for each in added.marks)


def test_an_answer_that_is_no_column_is_refused(tmp_path: Path, lab: Lab) -> None:
    path = put(tmp_path / "a.csv", temperatures(head=CHANNELS))
    with pytest.raises(BadInput, match="column that was answered"):
        bring_in(lab, [path], {"fan": "Sedge"}, ask=lambda words: "CH9" if "hot" in words else "")


BAD = {
    "empty.csv": (b"", "file"),
    "head.csv": (b"Time,Hot [\xc2\xb0C],Heater [W]\n", "table"),
    "one.csv": (b"Time,Hot [\xc2\xb0C],Heater [W]\n2026-11-26 09:15:03,35.0,300\n", "log"),
    "still.csv": (b"Time,Hot [\xc2\xb0C]\n" + b"2026-11-26 09:15:03,35.0\n" * 9, "column 'Time'"),
    "back.csv": (
        b"Time,Hot [\xc2\xb0C]\n2026-11-26 10:00:00,35\n2026-11-26 10:00:01,35\n2026-11-26 09:00:00,35\n",
        "column 'Time'",
    ),
    "day.csv": (
        b"Time,Hot [\xc2\xb0C]\n03/04/2026 10:00:00,35\n03/04/2026 10:00:01,35\n",
        "dates of column 'Time'",
    ),
    "kelvin.csv": (
        b"Time [s],Hot [\xc2\xb0C]\n" + b"".join(b"%d,30%d.2\n" % (i, i % 9) for i in range(50)),
        "column 'Hot [°C]'",
    ),
    "binary.csv": (bytes(range(256)) * 20, ""),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_log_is_named_and_stops_no_other(tmp_path: Path, lab: Lab, name: str) -> None:
    data, thing = BAD[name]
    base = a_run(tmp_path)
    (base / "Sedge/s1" / name).write_bytes(data)
    added = bring_in(lab, [base], NAMES)
    assert len(added.new) == 2
    if added.bad:
        assert added.bad[0].thing.startswith(thing)
        assert name in added.bad[0].place
        assert added.bad[0].found
        assert added.bad[0].expected
    else:
        assert f"in/Sedge/s1/{name}" in added.left_out


def test_a_log_cut_in_its_last_line_is_refused(tmp_path: Path, lab: Lab) -> None:
    whole = temperatures(300)
    path = put(tmp_path / "temps.csv", whole[: -len("22.00,22.10\n")])
    with pytest.raises(BadInput):
        bring_in(lab, [path], {"fan": "Sedge"})


def test_a_log_that_has_grown_takes_the_place_of_its_beginning(tmp_path: Path, lab: Lab) -> None:
    whole = temperatures(600)
    lines = whole.splitlines(keepends=True)
    put(tmp_path / "rigs.toml", RIGS)
    path = put(tmp_path / "temps.csv", "".join(lines[:300]))
    bring_in(lab, [tmp_path / "rigs.toml", path], {"fan": "Sedge"})
    put(path, whole)
    added = bring_in(lab, [path], {"fan": "Sedge"})
    assert added.again == ("temps.csv (it has grown)",)
    (found,) = place_all(open_book(lab))
    assert (found.taken.points, found.taken.ended) == (600, "2026-11-26T09:25:02")


def test_a_clock_without_a_day_takes_it_from_a_note_or_the_name(tmp_path: Path, lab: Lab) -> None:
    text = temperatures(60).replace("2026-11-26 ", "")
    put(tmp_path / "in/Sedge_20261127.csv", text)
    put(tmp_path / "in/Sedge_20261128.csv", "# Date: 2026-11-28\n" + text)
    bring_in(lab, [tmp_path / "in"], {"names": "{fan}_{date}"})
    found = placed(lab)
    by_name, by_note = found["Sedge_20261127.csv"], found["Sedge_20261128.csv"]
    assert (by_name.date, by_name.taken.measured) == ("2026-11-27", None)
    assert (by_note.taken.measured, by_note.taken.ended) == ("2026-11-28T09:15:03", "2026-11-28T09:16:02")


def test_steps_are_brought_in_and_wrong_ones_refused(tmp_path: Path, lab: Lab) -> None:
    head = "mounting,step,from,to,duty [%],noise [dBA]\n"
    path = put(tmp_path / "steps.csv", head + "m1,1,0,15,40,25\nm1,2,09:31:00,09:52,60,30\n")
    assert bring_in(lab, [path], {}).records == {"step": 2}
    assert [each.of for each in lab.current(Step).values()] == ["m1", "m1"]
    for line in (
        "m1,0,0,15,40,25",
        "m1,1,15,0,40,25",
        "m1,1,soon,,40,25",
        "m1,1,25:00,,40,25",
        "m1,1,0,15,140,25",
    ):
        wrong = put(tmp_path / "wrong.csv", head + line + "\n")
        with pytest.raises(StillroomError) as caught:
            bring_in(lab, [wrong], {})
        assert "wrong.csv" in caught.value.place


def test_each_log_has_its_line_right_after_it_came_in(tmp_path: Path, lab: Lab) -> None:
    base = a_run(tmp_path)
    put(base / "room/s1/climate.csv", room())
    added = bring_in(lab, [base], NAMES)
    checked, _, _ = check_in(lab, added.runs, workers=1)
    words = {each.placed.taken.file.rpartition("/")[2]: each for each in checked}
    assert words.keys() == {"temps.csv", "drive.csv", "climate.csv"}
    assert "four channels, 10 min in steps of 1 s, no gaps" in words["temps.csv"].reason
    assert (words["drive.csv"].word, words["climate.csv"].word) == (Word.FIRST, Word.FIRST)
    assert "beside, for Sedge-s1-2026-11-26-heat" in words["climate.csv"].reason
    assert words["climate.csv"].what == "log beside heat-1"


def test_a_log_of_the_room_may_come_first(tmp_path: Path, lab: Lab) -> None:
    put(tmp_path / "rigs.toml", RIGS)
    added = bring_in(lab, [tmp_path / "rigs.toml", put(tmp_path / "climate.csv", room())], {})
    ((checked,), _, _) = check_in(lab, added.runs, workers=1)
    assert checked.word is Word.FIRST
    assert "no run of a fan belongs to it yet" in checked.reason


def test_a_column_names_the_fan_and_two_fans_are_refused(tmp_path: Path, lab: Lab) -> None:
    lines = drive(60).splitlines()
    put(tmp_path / "rigs.toml", RIGS)
    one = put(
        tmp_path / "one.csv",
        "\n".join([lines[0] + ",Fan,Sample", *(f"{each},Sedge,{i}" for i, each in enumerate(lines[1:]))]),
    )
    bring_in(lab, [tmp_path / "rigs.toml", one], {})
    (found,) = place_all(open_book(lab))
    assert (found.fan, found.sample) == ("Sedge", "s1")
    two = put(
        tmp_path / "two.csv",
        "\n".join(
            [
                lines[0] + ",Fan",
                *(f"{each},{'Sedge' if i < 30 else 'Gorse'}" for i, each in enumerate(lines[1:])),
            ]
        ),
    )
    with pytest.raises(BadInput, match="'Sedge' and 'Gorse' in the column 'Fan'"):
        bring_in(lab, [two], {})
