"""The verbs on a lab with sound: the set list, its sheet, asking at a noise limit, following a limit back."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from noise_world import TOP, Fan, Sound, limit_of, line, make_lab

from stillroom import verbs
from stillroom.compare.candidates import Bound, How, Margin, MarginKind, StandingVerdict
from stillroom.compare.standing import Ranking, Standing
from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.pictures.pictures import bars
from stillroom.lab.sound.cautions import CAUTIONS, HEADER
from stillroom.lab.sound.settings_at import AT_POINT, setting_of
from stillroom.measures import measure_named
from stillroom.records.settings import Settings
from stillroom.store.lab import Lab
from stillroom.verbs import Conditions
from stillroom.verbs.conditions import noise_limit

DOCS = Path(__file__).resolve().parents[2] / "docs"


def test_the_set_list_holds_speed_and_duty_of_each_fan_at_each_limit(made: Lab, tmp_path: Path) -> None:
    out = tmp_path / "list.json"
    said = verbs.set_list(noise=("28", "33 dBA"), through="rad", rig="heat", out=out, lab=made.path)
    rows = {(each["fan"], each["noise"]): each for each in said.data["rows"]}
    alder = rows["Alder", 28.0]
    assert alder["limit"] == "28 dBA at 0.5 m"
    assert alder["speed"] == pytest.approx(limit_of(30.0, 28.0), rel=1e-3)
    assert alder["low"] < alder["speed"] < alder["high"]
    assert alder["setting"]["kind"] == "duty"
    assert alder["setting"]["value"] == pytest.approx(limit_of(30.0, 28.0) / TOP, abs=2e-3)
    assert alder["setting"]["way"] == AT_POINT
    cherry = rows["Cherry", 28.0]
    assert cherry["highest"] > 1.15 * cherry["never_exceeded"]
    assert len(cherry["avoid"]) == 1
    assert rows["Dogwood", 33.0]["tops_out"]
    assert rows["Elm", 28.0]["too_loud"]
    assert rows["Elm", 28.0]["speed"] is None
    assert rows["Iris", 28.0]["sound_measured_with"] == "rad"
    assert rows["Gorse", 28.0]["why"] == "sound measured at 1 m, not 0.5 m"
    assert said.data["rig"] == "heat"
    assert json.loads(out.read_text(encoding="utf-8")) == said.data
    table = said.tables[0][1]
    words = {(row[0], row[1]): row for row in table.rows}
    assert words["Dogwood", "33 dBA at 0.5 m"][4] == "full setting"
    assert all("at 0.5 m" in row[1] for row in table.rows)


def test_the_set_list_says_where_one_more_dwell_would_tell_most(tmp_path: Path) -> None:
    middle = 53.0 * math.log10(
        1525.0 / 1500.0
    )  # over the level at 1500 rpm, halfway between two measured speeds
    unsure, sure = Sound(line(30.0), own=0.3), Sound(line(30.0), own=0.0)
    with make_lab(tmp_path, (Fan("Unsure", (unsure,)), Fan("Sure", (sure,)))) as lab:
        said = verbs.set_list(noise=(f"{30.0 + middle}", "60"), lab=lab.path)
    (place,) = said.data["next_dwells"]
    assert place["fan"] == "Unsure"
    assert place["speed"] == pytest.approx(1525.0)
    assert place["limit"] == said.data["rows"][-2]["limit"]
    assert place["probability"] == pytest.approx(0.5, abs=0.05)
    heading, table = said.tables[1]
    assert heading
    assert table.rows == (("Unsure", "1,525 rpm", place["limit"], f"{place['probability']:.0%}"),)


def test_without_a_limit_those_of_the_lab_are_taken(made: Lab, tmp_path: Path) -> None:
    out = tmp_path / "list.csv"
    said = verbs.set_list(only=("Alder",), csv=True, out=out, lab=made.path)
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert [each["limit"] for each in rows] == [f"{each} dBA at 0.5 m" for each in (25, 30, 35)]
    assert float(rows[1]["speed [rpm]"]) == pytest.approx(1500.0, rel=1e-3)
    assert said.title.splitlines()[0].startswith("fan,limit")


def test_a_set_list_as_csv_is_for_people_to_set_by(made: Lab) -> None:
    said = verbs.set_list(noise=("28", "33"), through="rad", csv=True, lab=made.path)
    rows = {(each["fan"], each["limit"]): each for each in csv.DictReader(said.title.splitlines())}
    alder, dogwood = rows["Alder", "28 dBA at 0.5 m"], rows["Dogwood", "33 dBA at 0.5 m"]
    assert re.fullmatch(r"\d+\.\d", alder["speed [rpm]"])
    assert float(alder["setting"]) == pytest.approx(100 * limit_of(30.0, 28.0) / TOP, abs=0.2)
    assert alder["unit of setting"] == "%"
    assert (dogwood["tops out"], alder["tops out"]) == ("yes", "no")
    assert dogwood["setting"]
    assert re.fullmatch(r"\d+\.\d-\d+\.\d", rows["Cherry", "28 dBA at 0.5 m"]["avoid [rpm]"])
    assert all("_" not in name for name in alder)


@pytest.mark.parametrize("name", ["alder", "ALDER"])
def test_a_fans_name_is_known_whatever_its_case(made: Lab, name: str) -> None:
    asked = verbs.ask(name, conditions=Conditions(noise=("28",)), lab=made.path)
    listed = verbs.set_list(noise=("28",), only=(name,), lab=made.path)
    ranked = verbs.rank("limited-speed", conditions=Conditions(noise=("28",)), only=(name,), lab=made.path)
    assert asked.data["fan"] == "Alder"
    assert [each["fan"] for each in listed.data["rows"]] == ["Alder"]
    assert [each["fan"] for each in ranked.data["standings"]] == ["Alder"]


def test_the_sheet_carries_the_header_the_cautions_and_room_to_write(made: Lab, tmp_path: Path) -> None:
    out = tmp_path / "sheet.html"
    verbs.set_list(noise=("28",), through="rad", rig="heat & <air>", out=out, lab=made.path)
    page = out.read_text(encoding="utf-8")
    assert HEADER in page
    for each in CAUTIONS:
        assert each.words in page
    assert "heat &amp; &lt;air&gt;" in page
    assert "<script" not in page
    assert "28 dBA at 0.5 m" in page
    assert page.count('class="write"') == page.count('class="box"') > 4


def test_the_cautions_of_the_documentation_are_the_same_words() -> None:
    page = (DOCS / "cautions.md").read_text(encoding="utf-8")
    assert HEADER in page
    for each in CAUTIONS:
        assert f"**{each.about}:** {each.words}" in page


def test_what_a_set_list_cannot_be_is_refused(made: Lab, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"sheet\.pdf"):
        verbs.set_list(out=tmp_path / "sheet.pdf", lab=made.path)
    with pytest.raises(UnknownThing, match="Aldr"):
        verbs.set_list(only=("Aldr",), lab=made.path)


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("35", (35.0, None)),
        ("35 dBA", (35.0, None)),
        ("32,5 dB(A)", (32.5, None)),
        ("1.5 sone", (None, 1.5)),
        ("", (None, None)),
    ],
)
def test_limits_are_read_as_people_write_them(text: str, limit: tuple[float | None, float | None]) -> None:
    assert noise_limit(text) == limit


@pytest.mark.parametrize("text", ["quiet", "35 dBC", "3 Pa", "0", "-5", "500", "35 dBA at 1 m", "nan"])
def test_what_is_no_limit_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="--noise"):
        noise_limit(text)


def test_asking_at_a_limit_tells_both_speeds_and_what_to_avoid(made: Lab) -> None:
    said = verbs.ask("Cherry", through="rad", conditions=Conditions(noise=("28",)), lab=made.path)
    noise = said.data["noise"]
    assert noise["highest"] > 1.15 * noise["never_exceeded"]
    assert noise["loudness"]["value"] > 0.0
    assert noise["setting"]["kind"] == "duty"
    heading, table = said.tables[-1]
    assert heading == "At 28 dBA at 0.5 m"
    told = dict(table.rows)
    assert told["avoid, above the limit"].endswith("rpm")
    assert "dBA at 0.5 m" in told["level there"]
    numbers = {each["measure"]: each for each in said.data["numbers"]}
    assert {"airflow", "limited-speed", "loudness", "sharpness"} <= set(numbers)
    assert "28 dBA at 0.5 m" in said.title
    plain = verbs.ask("Alder", lab=made.path)
    assert plain.data["noise"] is None
    assert {each["measure"] for each in plain.data["numbers"]} >= {"level", "loudness", "sharpness"}


def test_a_ranking_tells_the_distance_beside_each_level_and_keeps_who_is_too_loud(made: Lab) -> None:
    said = verbs.rank("level", conditions=Conditions(speed="1200"), lab=made.path)
    assert said.tables[0][1].headers[2] == "value [dBA at 0.5 m]"
    assert any("A gap under 1 dB" in each for each in said.lines)
    fir = next(row for row in said.tables[0][1].rows if row[1] == "Fir")
    assert fir[2].startswith("at most 27")
    assert fir[3].startswith("up to ")
    limited = verbs.rank("airflow", through="rad", conditions=Conditions(noise=("25",)), lab=made.path)
    elm = next(row for row in limited.tables[0][1].rows if row[1] == "Elm")
    assert elm[4] == "can’t run this quiet"
    assert elm[7].startswith(f"{55.0 + 53.0 * math.log10(500.0 / 1500.0):.1f} dBA at 0.5 m")
    text = verbs.rank("level", csv=True, lab=made.path).title
    assert next(csv.DictReader(text.splitlines()))["distance"] == "0.5 m"


def test_a_number_at_a_limit_is_followed_to_the_sound_of_each_mounting(made: Lab) -> None:
    said = verbs.rank("airflow", through="rad", conditions=Conditions(noise=("28",)), lab=made.path)
    key = next(each["key"] for each in said.data["standings"] if each["fan"] == "Birch")
    traced = verbs.trace(key, lab=made.path)
    words = "\n".join(traced.lines)
    assert "limit of Birch: 28 dBA at 0.5 m" in words
    assert words.count("sound of Birch-q") == 2
    speed = verbs.rank("limited-speed", conditions=Conditions(noise=("28",)), lab=made.path)
    lines = verbs.trace(speed.data["standings"][0]["key"], lab=made.path).lines
    assert any("between mountings 0." in each and "dB" in each for each in lines)


def test_a_setting_is_found_between_those_tested_by_a_monotone_course() -> None:
    duty, speed = np.array([0.2, 0.3, 0.5, 1.0]), np.array([10.0, 10.0, 15.0, 30.0])
    assert setting_of(duty, speed, 30.0) == pytest.approx(1.0)
    assert setting_of(duty, speed, 15.0) == pytest.approx(0.5)
    assert setting_of(duty, speed, 10.0) == pytest.approx(
        0.3, abs=1e-3
    )  # it stands at its least speed up to 30 %
    assert setting_of(duty, speed, 31.0) is None
    assert setting_of(duty[:1], speed[:1], 10.0) == pytest.approx(0.2)


def test_a_chart_of_levels_has_dots_from_no_zero_and_says_where_they_hold(made: Lab, tmp_path: Path) -> None:
    said = verbs.chart(
        fan="alder", measure="level", conditions=Conditions(speed="1200"), out=tmp_path, lab=made.path
    )
    drawn = next(tmp_path.glob("*.svg")).read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "← further left is quieter" in drawn
    assert "shorter is better" not in drawn
    assert "dBA at 0.5 m" in drawn
    assert "levels in the quiet room’s own air" in drawn
    assert "kg/m³" not in drawn
    assert any(
        each.startswith("Dots, not bars: a level has no zero. The scale starts at ")
        for each in said.data["notes"]
    )


def test_a_chart_says_whose_microphone_nothing_calibrated() -> None:
    line = Standing("Alder", 30.0, 28.0, 32.0, Bound.NONE, (1, 1), StandingVerdict.LEADER, How.MEASURED, 1, 1,
                    ("not calibrated that day", "no background recorded"), "key")  # fmt: skip
    other = replace(line, fan="Beech", marks=("no background recorded",))
    told = {"speed": "full setting", "obstacle": None, "size": None, "distance": "1 m"}
    told |= {"density": "levels in the quiet room’s own air"}
    margin, lines = Margin(1.0, MarginKind.ABSOLUTE), (line, other)
    found = Ranking("level", "", "1", "dBA", told, margin, lines, (), ("Alder", "Beech"), ())
    picture, _ = bars(Settings(name="lab"), found, measure_named("level"), "", 10)
    assert "dBA at 1 m, levels in the quiet room’s own air" in picture.subtitle
    assert picture.starts_at == 25.0
    assert picture.notes[-1] == "Not calibrated that day: Alder; no background recorded: all."


def test_a_level_chart_says_why_a_band_is_to_be_avoided(made: Lab, tmp_path: Path) -> None:
    by_limit = Conditions(noise=("28",))
    limited = verbs.chart(
        verbs.charting.Kind.LEVELS, "cherry", conditions=by_limit, out=tmp_path, lab=made.path
    )
    folded = verbs.chart(verbs.charting.Kind.LEVELS, "cherry", out=tmp_path, lab=made.path)
    assert any("a fan is above a limit there" in each for each in limited.data["notes"])
    assert any("a fan is louder there than at a higher speed" in each for each in folded.data["notes"])
