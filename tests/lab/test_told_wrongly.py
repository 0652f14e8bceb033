"""Names, notes, `--as` and run tables that say what can't be, or two things at once: asked, never taken in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from stillroom.errors import BadInput, Contradiction, StillroomError
from stillroom.lab.book import Placed, open_book, place_all
from stillroom.lab.intake.batch import Added
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

HEAD = "Airflow [m³/h];Static pressure [Pa];Speed [rpm]\n"
POINTS = ((0, 40.0), (20, 35.0), (40, 28.0), (60, 15.0), (80, 0.0))
ROWS = "".join(f"{flow};{pressure:g};1500\n" for flow, pressure in POINTS)
SLOWER = ROWS.replace("1500", "1400")


def with_column(header: str, cell: str, rows: str = ROWS) -> str:
    """A table with one more column in front."""
    return f"{header};{HEAD}" + "".join(f"{cell};{line}\n" for line in rows.splitlines())


AT_40 = with_column("Duty [%]", "40")


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


def add(lab: Lab, files: Mapping[str, str], **said: str) -> Added:
    base = lab.path.parent / f"e{len(list(lab.path.parent.iterdir()))}"
    for name, text in files.items():
        path = base / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return bring_in(lab, [base], {"accuracy": "± 3 % of reading"} | said)


def placed(lab: Lab) -> list[Placed]:
    return place_all(open_book(lab))


@pytest.mark.parametrize(
    ("what", "text", "part"),
    [
        ("duty", "0.6", "share"),
        ("duty", "600", "600"),
        ("duty", "nan", "nan"),
        ("duty", "-5", "-5"),
        ("duty", "7V", "7V"),
        ("duty", "1_0", "1_0"),
        ("volts", "60%", "60%"),
        ("volts", "inf", "inf"),
        ("speed", "1.500", "1500"),
        ("speed", "1,500 rpm", "1500"),
        ("speed", "90000", "90000"),
        ("fan", "  ", "'  '"),
        ("fan", "Sed\u202ege", "u202e"),
    ],
)
def test_what_is_told_by_hand_is_held_to_sense(lab: Lab, what: str, text: str, part: str) -> None:
    with pytest.raises(StillroomError) as caught:
        add(lab, {"x.csv": HEAD + ROWS}, **({"fan": "Sedge"} | {what: text}))
    assert part in str(caught.value)
    assert placed(lab) == []


@pytest.mark.parametrize(
    ("what", "text", "word"),
    [("duty", "60", "60%"), ("duty", "60 %", "60%"), ("volts", "7,5", "7.5 V"), ("volts", "12.500", "12.5 V"),
     ("speed", "1500rpm", "1500 rpm"), ("speed", "25 1/s", "1500 rpm")],
)  # fmt: skip
def test_settings_in_their_units_are_taken(lab: Lab, what: str, text: str, word: str) -> None:
    add(lab, {"x.csv": HEAD + ROWS}, **{"fan": "Sedge", what: text})
    assert [each.setting_word for each in placed(lab)] == [word]


@pytest.mark.parametrize("name", ["sedge_0.6.csv", "sedge_600.csv"])
def test_a_duty_in_a_name_that_nobody_runs(lab: Lab, name: str) -> None:
    (bad,) = add(lab, {name: HEAD + ROWS, "sedge_60.csv": HEAD + SLOWER}, names="{fan}_{duty}").bad
    assert name in bad.place


@pytest.mark.parametrize("duty", ["0.6", "600"])
def test_a_duty_in_a_run_table_that_nobody_runs(lab: Lab, duty: str) -> None:
    with pytest.raises(BadInput) as caught:
        add(lab, {"x.csv": HEAD + ROWS, "runs.csv": f"file,fan,duty [%]\nx.csv,Sedge,{duty}\n"})
    assert "runs.csv, line 2" in str(caught.value)


def test_two_rows_of_a_table_for_one_thing(lab: Lab) -> None:
    with pytest.raises(Contradiction) as caught:
        add(lab, {"x.csv": HEAD + ROWS, "runs.csv": "file,fan\nx.csv,Sedge\nx.csv,Bracken\n"})
    assert "runs.csv, line 3" in str(caught.value)
    add(lab, {"x.csv": HEAD + ROWS, "runs.csv": "file,fan\nx.csv,Sedge\nx.csv,Sedge\n"})


def test_a_row_of_the_run_table_that_fits_two_files(lab: Lab) -> None:
    files = {"a/x.csv": HEAD + ROWS, "b/x.csv": HEAD + SLOWER}
    made = add(lab, {**files, "runs.csv": "file,fan\nx.csv,Sedge\n"})
    assert (made.new, len(made.bad)) == ((), 2)
    add(lab, {**files, "runs.csv": "file,fan\na\\x.csv,Sedge\nb/x.csv,Bracken\n"})
    assert {each.fan for each in placed(lab)} == {"Sedge", "Bracken"}


@pytest.mark.parametrize("name", ["60pct.csv", "sedge/s1/60 %.csv", "run_pwm60.csv", "2026-05-04-60pct.csv"])
def test_a_setting_in_a_name_that_no_pattern_reads(lab: Lab, name: str) -> None:
    with pytest.raises(Contradiction) as caught:
        add(lab, {name: AT_40}, fan="Sedge")
    assert "60% in its name and 40% in the file" in caught.value.found
    add(lab, {name: AT_40}, fan="Sedge", duty="40")
    assert [each.setting_word for each in placed(lab)] == ["40%"]


def test_a_fan_in_the_name_and_another_in_a_note(lab: Lab) -> None:
    add(lab, {"x.csv": HEAD + SLOWER}, fan="Bracken")
    with pytest.raises(Contradiction) as caught:
        add(lab, {"bracken_40pct.csv": "Fan: Sedge\n" + AT_40})
    assert "Bracken in its name and Sedge in the file" in caught.value.found
    add(lab, {"sedge-bracken-stand.csv": "Fan: Sedge\n" + AT_40})
    assert [each.fan for each in placed(lab)] == ["Bracken", "Sedge"]


@pytest.mark.parametrize(
    ("notes", "parts"),
    [
        ("Fan: Sedge\nFan: Bracken\n", ("Sedge", "Bracken")),
        ("Fan: Sedge\nLüfter: Bracken\n", ("'Fan'", "'Lüfter'")),
        ("Sample: 1\nSpecimen: 2\n", ("'1'", "'2'")),
        ("Fan: Sed\u202ege\n", ("u202e",)),
        ("Fan: " + "x" * 150 + "\n", ("a name that shows",)),
        ("Duty: 0.6 %\nFan: Sedge\n", ("0.6",)),
        ("Duty: 60 %\nFan: Sedge\n", ("60%", "40%")),
    ],
)
def test_notes_that_say_two_things_or_nothing_that_can_be(
    lab: Lab, notes: str, parts: tuple[str, ...]
) -> None:
    table = AT_40 if "60" in notes else HEAD + ROWS
    with pytest.raises(StillroomError) as caught:
        add(lab, {"x.csv": notes + table})
    for part in parts:
        assert part in str(caught.value)


def test_what_is_told_by_hand_comes_before_two_notes(lab: Lab) -> None:
    add(lab, {"x.csv": "Fan: Sedge\nFan: Bracken\n" + AT_40}, fan="Bracken")
    assert [each.fan for each in placed(lab)] == ["Bracken"]


def test_a_note_that_fits_none_of_the_sweeps(lab: Lab) -> None:
    two = with_column("Duty [%]", "40") + "".join(f"80;{line}\n" for line in ROWS.splitlines())
    with pytest.raises(Contradiction):
        add(lab, {"x.csv": "Fan: Sedge\nDuty: 60 %\n" + two})
    add(lab, {"x.csv": "Fan: Sedge\nDuty: 80 %\n" + two})
    assert [each.setting_word for each in placed(lab)] == ["40%", "80%"]


def test_the_second_tables_note_counts_however_it_is_written(lab: Lab) -> None:
    add(lab, {"x.csv": f"Fan: Sedge\n{HEAD}{ROWS}\nFAN: Bracken\n{HEAD}{SLOWER}"})
    assert [each.fan for each in placed(lab)] == ["Sedge", "Bracken"]


def test_columns_of_fans_and_samples_part_the_runs(lab: Lab) -> None:
    text = with_column("Fan;Sample", "Sedge;1") + "".join(
        f"{name};{line}\n" for name in ("Sedge;2", "Bracken;1") for line in SLOWER.splitlines()
    )
    add(lab, {"x.csv": text})
    told = [(each.fan, each.sample, each.taken.points) for each in placed(lab)]
    assert told == [("Sedge", "s1", 5), ("Sedge", "s2", 5), ("Bracken", "s1", 5)]


def test_fans_by_turns_in_one_table_are_asked_for(lab: Lab) -> None:
    mixed = "Fan;" + HEAD + "".join(
        f"{name};{line}\n" for line in ROWS.splitlines() for name in ("Sedge", "Bracken")
    )  # fmt: skip
    with pytest.raises(Contradiction) as caught:
        add(lab, {"x.csv": mixed})
    assert "'Sedge' and 'Bracken' in the column 'Fan'" in caught.value.found


def test_a_logger_that_counts_its_samples(lab: Lab) -> None:
    text = "Sample;" + HEAD + "".join(f"{i};{line}\n" for i, line in enumerate(ROWS.splitlines()))
    add(lab, {"x.csv": text}, fan="Sedge", sample="2")
    assert [(each.sample, each.taken.points) for each in placed(lab)] == [("s2", 5)]


def test_one_fan_and_one_sample_however_they_are_written(lab: Lab) -> None:
    add(
        lab, {"x.csv": "Fan: Sedge\nSample: S1\n" + AT_40, "y.csv": "Fan: SEDGE\nSample: 1\n" + HEAD + SLOWER}
    )
    add(lab, {"z.csv": HEAD + ROWS}, fan="sedge", sample="s1")
    assert {(each.fan, each.sample) for each in placed(lab)} == {("Sedge", "s1")}


@pytest.mark.parametrize("word", ["none", "Free air", "open", "ohne", "-"])
def test_no_obstacle_by_its_words(lab: Lab, word: str) -> None:
    add(lab, {"x.csv": f"Fan: Sedge\nObstacle: {word}\n" + AT_40})
    assert [each.obstacle for each in placed(lab)] == [""]


def test_free_air_in_the_names(lab: Lab) -> None:
    add(lab, {"sedge_free.csv": HEAD + ROWS, "sedge_rad27.csv": HEAD + SLOWER}, names="{fan}_{obstacle}")
    assert {each.obstacle for each in placed(lab)} == {"", "rad27"}


def test_a_table_that_is_refused_is_named_however_few_numbers_it_holds(lab: Lab) -> None:
    made = add(lab, {"x.csv": HEAD + ROWS, "runs.csv": "file,fan\nx.csv,Sedge\nx.csv,Bracken\n"}, fan="Sedge")
    assert made.left_out == {}
    assert len(made.bad) == 1


def test_a_run_table_that_says_otherwise_than_the_file_counts_and_is_said(lab: Lab) -> None:
    table = "file,fan,duty [%]\nx.csv,Bracken,60\n"
    made = add(lab, {"x.csv": "Fan: Sedge\n" + AT_40, "runs.csv": table})
    assert any("60% by the run table, which counts; 40% in the file" in each for each in made.marks)
    assert any("fan Bracken by the run table" in each for each in made.marks)
    assert [(each.fan, each.setting_word) for each in placed(lab)] == [("Bracken", "60%")]


def test_what_was_passed_over_is_said_when_files_come_in(lab: Lab) -> None:
    more = "\nTime [s];Temperature [°C]\n1;20\n2;21\n3;22\n"
    made = add(lab, {"x.csv": HEAD + ROWS + more}, fan="Sedge")
    assert any("passed over in" in each and "Temperature" in each for each in made.marks)


def test_a_column_that_a_table_does_not_have_is_said(lab: Lab) -> None:
    made = add(lab, {"x.csv": AT_40, "runs.csv": "file,fan,smple\nx.csv,Sedge,2\n"})
    assert any("'smple'" in each for each in made.marks)


def test_readings_with_a_column_for_the_fan_are_no_table_of_fans(lab: Lab) -> None:
    add(lab, {"x.csv": with_column("Fan", "Sedge")})
    assert [(each.fan, each.taken.points) for each in placed(lab)] == [("Sedge", 5)]
    assert open_book(lab).fans == {}
