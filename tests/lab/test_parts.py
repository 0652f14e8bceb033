"""One file, many runs: sweeps up and down, several settings, several tables, and what the file itself says."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.book import Placed, open_book, place_all
from stillroom.lab.intake.batch import Added, File
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.intake.parts import notes_said, parts_of
from stillroom.lab.recipes import build_graph
from stillroom.lab.tracing import follow
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.source import Source
from stillroom.records.acts import Taken
from stillroom.records.settings import template
from stillroom.store import folder, journal, results
from stillroom.store.lab import Lab

HEAD = "PWM [%];Airflow [m³/h];Static pressure [Pa];Speed [rpm]\n"
SHARES = [i / 9 for i in range(10)]


def rows(duty: float, shares: Sequence[float] = SHARES, *, scale: float = 1.0) -> str:
    """A sweep of an invented fan at one duty, its pressure changed by a factor."""
    speed = 300 + 15 * duty
    lines = (
        f"{duty:g};{0.06 * speed * q:.2f};{scale * 8e-6 * speed**2 * (1 - 0.3 * q - 0.7 * q * q):.3f};{speed:g}\n"
        for q in shares
    )
    return "".join(lines).replace(".", ",")


def up_and_down(duty: float, *, scale: float = 1.0) -> str:
    return rows(duty, SHARES, scale=scale) + rows(duty, SHARES[::-1], scale=scale * 1.0004)


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test").replace("# trials = 2000", "trials = 500"))
    return Lab(tmp_path / "lab")


def put(tmp_path: Path, name: str, text: str) -> Path:
    path = tmp_path / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def added(lab: Lab, path: Path, **said: str) -> Added:
    return bring_in(lab, [path], {"accuracy": "± 3 % of reading"} | said)


def placed(lab: Lab) -> list[Placed]:
    return place_all(open_book(lab))


def test_sweeps_up_and_down_at_several_settings_are_runs_of_one_mounting(lab: Lab, tmp_path: Path) -> None:
    text = HEAD + "".join(up_and_down(duty) for duty in (40, 70, 100)) + "Mean;;;\n"
    added(lab, put(tmp_path, "x.csv", text), fan="Sedge", sample="1")
    runs = placed(lab)
    told = [(each.taken.part, each.setting_word, each.direction, each.taken.points) for each in runs]
    assert told == [
        (1, "40%", "up", 10), (2, "40%", "down", 10), (3, "70%", "up", 10),
        (4, "70%", "down", 10), (5, "100%", "up", 10), (6, "100%", "down", 10),
    ]  # fmt: skip
    assert len({each.mounting for each in runs}) == 1
    sha = runs[0].taken.sha256
    assert [each.run for each in runs] == [f"{sha[:12]}-{n}" for n in range(1, 7)]
    assert [each.taken.name for each in runs] == [f"{sha}/{n}" for n in range(1, 7)]


def test_each_part_is_read_and_traced_to_its_own_lines(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path, "x.csv", HEAD + "".join(up_and_down(duty) for duty in (40, 70)))
    made = added(lab, path, fan="Sedge", sample="1")
    check_in(lab, made.runs, workers=1)
    (node,) = build_graph(open_book(lab)).mountings("Sedge")
    result = results.get(lab.database, node.key)
    assert result is not None
    assert not result.failed
    assert [each["lines"] for each in result.body["runs"]] == [
        list(range(start, start + 10)) for start in (2, 12, 22, 32)
    ]
    trace = follow(lab, node.key)
    assert any("part 3, lines 22 to 31" in line for line in trace.lines)
    assert trace.data["from"][2]["original"]["part"] == 3


def test_keys_hang_on_the_part(lab: Lab, tmp_path: Path) -> None:
    added(lab, put(tmp_path, "x.csv", HEAD + up_and_down(40)), fan="Sedge", sample="1")
    (node,) = build_graph(open_book(lab)).mountings("Sedge")
    assert len({each.key for each in node.runs}) == 2


def test_tables_of_one_file_may_be_of_several_fans_and_samples(lab: Lab, tmp_path: Path) -> None:
    text = "".join(
        f"Fan: {fan}\nSample: {sample}\nDate: 04.05.2026\n\n{HEAD}{rows(60, scale=scale)}\n\n"
        for fan, sample, scale in (("Sedge", "1", 1.0), ("Sedge", "2", 1.01), ("Bracken", "1", 1.1))
    )
    added(lab, put(tmp_path, "x.csv", text))
    told = [(each.fan, each.sample, each.mounting, each.taken.layout["block"]) for each in placed(lab)]
    assert told == [
        ("Sedge", "s1", "Sedge-s1-2026-05-04", 1),
        ("Sedge", "s2", "Sedge-s2-2026-05-04", 2),
        ("Bracken", "s1", "Bracken-s1-2026-05-04", 3),
    ]


def test_a_row_of_the_run_table_may_speak_of_one_part(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path, "e/x.csv", HEAD + up_and_down(40))
    table = "file,part,fan,sample,duty [%]\nX.CSV,,Sedge,s1,40\n.\\x.csv,2,Sedge,s2,41\n"
    put(tmp_path, "e/runs.csv", table)
    bring_in(lab, [tmp_path / "e"], {})
    assert [(each.sample, each.setting_word) for each in placed(lab)] == [("s1", "40%"), ("s2", "41%")]


def test_a_row_for_a_part_that_the_file_does_not_have(lab: Lab, tmp_path: Path) -> None:
    put(tmp_path, "e/x.csv", HEAD + up_and_down(40))
    put(tmp_path, "e/runs.csv", "file,part,fan,sample\nx.csv,1,Sedge,s1\nx.csv,3,Sedge,s2\n")
    (bad,) = bring_in(lab, [tmp_path / "e"], {"fan": "Sedge"}).bad
    assert bad.place == "e/x.csv, part 3"
    assert "parts from 1 to 2" in bad.expected


def test_a_name_and_a_file_that_contradict_each_other_are_both_named(lab: Lab, tmp_path: Path) -> None:
    for duty in (40, 60):
        put(tmp_path, f"e/sedge/s1/{duty}pct.csv", HEAD + rows(duty if duty == 40 else 70))
    made = bring_in(lab, [tmp_path / "e"], {"names": "{fan}/s{sample}/{duty}pct"})
    (bad,) = made.bad
    assert isinstance(bad, Contradiction)
    assert bad.place == "e/sedge/s1/60pct.csv"
    assert "60% in its name and 70% in the file" in bad.found
    assert len(made.new) == 1
    told = bring_in(lab, [tmp_path / "e" / "sedge" / "s1" / "60pct.csv"], {"fan": "sedge", "duty": "70"})
    assert len(told.new) == 1, "--as comes before both"


def test_a_note_and_readings_that_contradict_each_other(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path, "x.csv", f"Duty: 60 %\n\n{HEAD}{rows(70)}")
    with pytest.raises(Contradiction) as caught:
        added(lab, path, fan="Sedge")
    assert "60% in the note 'Duty', 70% read" in caught.value.found


def test_a_file_without_a_setting_is_allowed_and_marked(lab: Lab, tmp_path: Path) -> None:
    bare = "".join(line.partition(";")[2] + "\n" for line in (HEAD + rows(70)).splitlines())
    made = added(lab, put(tmp_path, "x.csv", bare), fan="Sedge")
    assert any("no setting is told for x.csv" in each for each in made.marks)
    (run,) = placed(lab)
    assert (run.setting, run.setting_kind) == (None, "")


def test_the_same_bytes_with_another_layout_replace_all_parts(lab: Lab, tmp_path: Path) -> None:
    path = put(tmp_path, "x.csv", HEAD + up_and_down(40) + up_and_down(70))
    added(lab, path, fan="Sedge", sample="1")
    assert len(placed(lab)) == 4
    again = bring_in(lab, [path], {"unit:Airflow [m³/h]": "CFM"})
    assert again.again == ("x.csv",)
    standing = placed(lab)
    assert len(standing) == 4
    assert {each.fan for each in standing} == {"Sedge"}, "what was said of it before stays"
    assert {each.taken.layout["columns"][1]["unit"] for each in standing} == {"CFM"}
    written = [each for each in journal.entries(lab.database) if each.kind == Taken.kind]
    assert {each.body["layout"]["columns"][1]["unit"] for each in written} == {"m³/h", "CFM"}, "history"


def test_a_file_that_becomes_one_run_leaves_no_part_behind(
    lab: Lab, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = put(tmp_path, "x.csv", HEAD + up_and_down(40))
    added(lab, path, fan="Sedge", sample="1")
    real = __import__("stillroom.lab.intake.parts", fromlist=["sweeps"]).sweeps
    monkeypatch.setattr("stillroom.lab.intake.parts.sweeps", lambda recording: real(recording)[:1])
    bring_in(lab, [path], {"unit:Airflow [m³/h]": "CFM"})
    (run,) = placed(lab)
    assert run.taken.part is None
    withdrawn = [each.name for each in journal.entries(lab.database) if each.kind == journal.WITHDRAWN]
    assert withdrawn == [f"{run.taken.sha256}/1", f"{run.taken.sha256}/2"]


@pytest.mark.parametrize(
    ("notes", "measured"),
    [
        ("Date: 2026-05-04 10:15", "2026-05-04T10:15:00"),
        ("Datum: 04.05.2026", "2026-05-04"),
        ("Date: 2026-05-04\nTime: 10:15:30", "2026-05-04T10:15:30"),
        ("Date: 17/04/2026", "2026-04-17"),
        ("Date: last week", ""),
        ("Date: 31/02/2026", ""),
    ],
)
def test_the_date_of_a_measurement_is_that_of_the_file_where_it_tells_one_beyond_doubt(
    notes: str, measured: str
) -> None:
    source = Source("x.csv", f"{notes}\n\n{HEAD}{rows(70)}".encode())
    (part,) = parts_of(File("x.csv", source), understand(source), {})
    assert part.measured == measured
    assert part.unread_date == ("" if measured else notes.removeprefix("Date: "))


def test_a_date_that_can_be_read_in_two_ways_is_asked_for(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text(f"Date: 05/04/2026\n\n{HEAD}{rows(70)}", encoding="utf-8")
    with pytest.raises(BadInput, match=r"date in the note 'Date' in x\.csv.*--as dates=dmy"):
        bring_in(lab, [path], {"fan": "Sedge"})
    bring_in(lab, [path], {"fan": "Sedge", "dates": "mdy"})
    assert [each.date for each in placed(lab)] == ["2026-05-04"]


def test_a_note_that_should_tell_the_day_and_does_not_is_marked(lab: Lab, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text(f"Date: last week\n\n{HEAD}{rows(70)}", encoding="utf-8")
    added = bring_in(lab, [path], {"fan": "Sedge"})
    assert any("'last week' in x.csv is no date" in each for each in added.marks)


def test_a_time_column_tells_when_each_sweep_began() -> None:
    lines = (HEAD + up_and_down(40)).splitlines()
    stamped = [f"Time;{lines[0]}"] + [f"2026-05-04 10:{i:02d}:00;{line}" for i, line in enumerate(lines[1:])]
    source = Source("x.csv", "\n".join(stamped).encode())
    parts = parts_of(File("x.csv", source), understand(source), {})
    assert [each.measured[:16] for each in parts] == ["2026-05-04T10:00", "2026-05-04T10:10"]


def test_calibrations_in_force_go_by_the_day_of_the_measurement(lab: Lab, tmp_path: Path) -> None:
    rigs = (
        '[rig.duct]\nflow = "q-1"\nstatic_pressure = "p-1"\n'
        '[instrument.p-1]\nquantity = "static_pressure"\naccuracy = "± 1 % of reading"\n'
        '[instrument.q-1]\nquantity = "flow"\naccuracy = "± 3 % of reading"\n'
        '[[instrument.q-1.calibration]]\ndate = 2026-01-10\ngain = 1.00\n'
        '[[instrument.q-1.calibration]]\ndate = 2026-06-10\ngain = 1.02\n'
    )  # fmt: skip
    bring_in(lab, [put(tmp_path, "rigs.toml", rigs)], {})
    for day in ("2026-05-04", "2026-07-01"):
        text = f"Date: {day}\n\n{HEAD}{rows(70, scale=1.0 if day < '2026-06' else 1.001)}"
        bring_in(lab, [put(tmp_path, f"{day}.csv", text)], {"fan": "Sedge", "rig": "duct"})
    used = [node.runs[0].calibrations["flow"] for node in build_graph(open_book(lab)).mountings("Sedge")]
    assert used == ["q-1@2026-01-10", "q-1@2026-06-10"]


def test_names_in_notes_are_written_as_the_lab_writes_them() -> None:
    known = {"fan": ["Sedge 120"], "rig": ["chamber"]}
    said = notes_said({"Fan": "SEDGE 120", "Sample No.": "3", "Rig": "Chamber", "Operator": "K. L."}, known)
    assert said == {"fan": "Sedge 120", "sample": "3", "rig": "chamber"}
    assert "rig" not in notes_said({"Rig": "wind tunnel of the neighbours"}, known)


def test_a_log_of_one_sweep_is_too_long(lab: Lab, tmp_path: Path) -> None:
    text = HEAD + rows(70, [i / 400 for i in range(400)])
    with pytest.raises(BadInput, match="average"):
        added(lab, put(tmp_path, "x.csv", text), fan="Sedge")
