"""The whole round's kinds of file: each holds the readings that were made, in its own way."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date, datetime
from pathlib import Path
from statistics import fmean

import pytest
from inverted import Lab, read_export, read_table
from python_calamine import load_workbook

from stillroom.demo.calendar import USUAL_DAY, calendar_of
from stillroom.demo.containers import Sheet, write_ods, write_xlsx
from stillroom.demo.plan import Kind, Mounting
from stillroom.demo.round import CLOSELY_WATCHED, SLOW_GENERATOR, round_of
from stillroom.demo.write import write_exports

SHEETS = [
    Sheet(
        "First & last",
        [["Title", None, None], ["a < b", 1.25, 7], [None, date(2026, 3, 2)]],
        merged=((0, 2),),
    ),
    Sheet("Second", [[datetime(2026, 3, 2, 9, 30), "Δp"], [-0.06, "12"]]),
]


@pytest.fixture(scope="module")
def full_lab(tmp_path_factory: pytest.TempPathFactory) -> Lab:
    folder = tmp_path_factory.mktemp("full") / "files"
    return folder, write_exports(folder, full=True)


@pytest.mark.parametrize(("suffix", "write"), [("xlsx", write_xlsx), ("ods", write_ods)])
def test_a_library_reads_the_workbooks_that_are_written_by_hand(suffix: str, write, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    # read back by calamine, which shares nothing with the writer
    path = tmp_path / f"a.{suffix}"
    write(path, SHEETS)
    book = load_workbook(str(path))
    assert book.sheet_names == ["First & last", "Second"]
    first, second = (book.get_sheet_by_name(name).to_python() for name in book.sheet_names)
    assert first[0][0] == "Title"
    assert first[1][:3] == ["a < b", 1.25, 7.0]
    assert first[2][1] == date(2026, 3, 2)
    assert second[0] == [datetime(2026, 3, 2, 9, 30), "Δp"]
    assert second[1] == [-0.06, "12"]
    write(tmp_path / f"b.{suffix}", SHEETS)
    assert path.read_bytes() == (tmp_path / f"b.{suffix}").read_bytes()


def of_kind(kind: Kind) -> Mounting:
    return next(each for each in round_of(full=True, faults=True).mountings if each.kind is kind)


def file_of(folder: Path, mounting: Mounting, setting: str = "") -> Path:
    listed = [row["file"] for row in read_table(folder / "runs.csv") if row["mounting"] == mounting.name]
    return folder / next(file for file in listed if setting in file)


def test_every_kind_of_file_is_there(full_lab: Lab) -> None:
    folder, _ = full_lab
    used = Counter(each.kind for each in round_of(full=True, faults=True).mountings)
    assert set(used) == set(Kind) - {Kind.COMMA} or set(used) == set(Kind)
    suffixes = {path.suffix for path in (folder / "exports").rglob("*") if path.is_file()}
    assert suffixes == {".csv", ".tsv", ".txt", ".xlsx", ".ods"}
    assert (folder / "readme.txt").exists()


def test_decimal_commas_in_windows_1252(full_lab: Lab) -> None:
    data = file_of(full_lab[0], of_kind(Kind.SEMICOLON), "100pct").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        data.decode("utf-8")
    lines = data.decode("cp1252").split("\r\n")
    assert lines[0].split(";")[3] == "Düsen"
    assert "°C" in lines[1].split(";")
    assert all(re.fullmatch(r"-?\d+,\d\d", line.split(";")[1]) for line in lines[2:-1])


def test_utf_16_has_its_mark_and_a_preamble(full_lab: Lab) -> None:
    data = file_of(full_lab[0], of_kind(Kind.UTF16), "100pct").read_bytes()
    assert data[:2] in (b"\xff\xfe", b"\xfe\xff")
    lines = data.decode("utf-16").splitlines()
    assert [line.split("\t")[0] for line in lines[:5]] == ["Instrument", "Operator", "Date", "Fan", "Sample"]
    assert lines[lines.index("") + 1].startswith("point\t")


def test_fixed_widths_with_thousands_and_local_dates(full_lab: Lab) -> None:
    lines = file_of(full_lab[0], of_kind(Kind.FIXED), "100pct").read_text(encoding="utf-8").splitlines()
    assert len({len(line) for line in lines[1:]}) == 1
    assert re.search(r" \d\d\.\d\d\.\d{4}  \d\d:\d\d:\d\d ", lines[3])
    assert re.search(r" \d\d,\d{3}\.\d ", lines[3])


def test_blocks_repeat_their_headers_and_end_in_means(full_lab: Lab) -> None:
    text = file_of(full_lab[0], of_kind(Kind.BLOCKS)).read_text(encoding="utf-8")
    blocks = [block.splitlines() for block in text.split("\n\n")[1:] if block.strip()]
    assert len(blocks) in (5, 11)
    assert len({block[1] for block in blocks}) == 1
    for block in blocks:
        assert block[0].startswith("Sweep ")
        rows = [line.split(";") for line in block[2:]]
        assert [row[0] for row in rows[-2:]] == ["Mean", "Max"]
        column = block[1].split(";").index("speed [rpm]")
        speeds = [float(row[column]) for row in rows[:-2]]
        assert float(rows[-2][column]) == pytest.approx(fmean(speeds), abs=1.0)
        assert float(rows[-1][column]) == pytest.approx(max(speeds), abs=1.0)


def test_one_table_holds_sweeps_up_and_down_with_their_duty(full_lab: Lab) -> None:
    mounting = next(e for e in round_of(full=True, faults=True).mountings if e.frequency == SLOW_GENERATOR)
    lines = file_of(full_lab[0], mounting).read_text(encoding="utf-8-sig").splitlines()
    header = lines[0].split(",")
    rows = [dict(zip(header, line.split(","), strict=True)) for line in lines[1:]]
    assert len(rows) == (2 * 10 + 1) * 13
    assert {row["PWM frequency [Hz]"] for row in rows} == {"2500"}
    pressures = [float(row["p_s [Pa]"]) for row in rows if row["duty [%]"] == "100"]
    assert pressures[0] > 20 * abs(pressures[12])
    assert pressures[25] > 20 * abs(pressures[13])


def test_workbooks_hold_sheets_titles_and_dates(full_lab: Lab) -> None:
    folder, _ = full_lab
    mounting = of_kind(Kind.WORKBOOK)
    book = load_workbook(str(file_of(folder, mounting)))
    assert book.sheet_names == ["Overview", *(f"Sweep {i}" for i in range(1, 12))]
    overview = book.get_sheet_by_name("Overview").to_python()
    days = {row["mounting"]: row["date"] for row in read_table(folder / "mountings.csv")}
    assert date.fromisoformat(days[mounting.name]) in [cell for row in overview for cell in row]
    sheet = book.get_sheet_by_name("Sweep 10").to_python()
    assert sheet[0][0] == f"{mounting.fan} {mounting.sample} at 100 %"
    assert len(sheet) == 5 + 13
    ods = load_workbook(str(file_of(folder, of_kind(Kind.ODS))))
    assert ods.sheet_names == ["Readings", "Notes"]


def test_the_reference_fan_is_measured_first_and_last_and_some_days_in_the_middle(full_lab: Lab) -> None:
    _, truth = full_lab
    plan = round_of(full=True, faults=True)
    for day in range(1, plan.last):
        own = [each for each in plan.mountings if each.day == day]
        checks = [i for i, each in enumerate(own) if each.check]
        assert len(checks) == (3 if day in CLOSELY_WATCHED else 2)
        assert checks[0] == 0
        assert checks[-1] == len(own) - 1
        assert {each.fan for each in own if each.check} == {truth.reference_fan}


def test_what_the_log_says_moves_the_readings() -> None:
    plan = round_of(full=True, faults=True)
    factors = {each.name: plan.nozzle_factor(each) ** 0.5 for each in plan.mountings}
    early = [factors[each.name] for each in plan.mountings if each.day < 6]
    late = [factors[each.name] for each in plan.mountings if each.day > 8]
    assert set(early) == {1.0}
    assert late == pytest.approx([1.012] * len(late))
    worst = min(factors.values())
    assert worst == pytest.approx(0.970, abs=1e-9)
    assert {each.day for each in plan.mountings if factors[each.name] == worst} == {7}


@pytest.mark.parametrize("today", [date(2026, 3, 13), date(2027, 1, 1), date(2028, 2, 29)])
def test_a_round_has_ended_just_before_today(today: date) -> None:
    for last in (6, 15):
        calendar = calendar_of(today, last)
        assert calendar.first.weekday() == 0
        assert 0 <= (today - date.fromisoformat(calendar.day(last))).days <= 6
        assert date.fromisoformat(calendar.day(last)).weekday() < 5


def test_another_day_moves_dates_and_nothing_else(lab: Lab, tmp_path: Path) -> None:
    folder, truth = lab
    later = write_exports(tmp_path / "later", today=date(2027, 6, 1))
    assert truth.today == USUAL_DAY.isoformat()
    assert later.fans == truth.fans
    assert later.faults == truth.faults
    for path in (folder / "exports").rglob("*.?sv"):
        assert list(read_export(tmp_path / "later" / path.relative_to(folder))) == list(read_export(path))
    dates = {row["date"] for row in read_table(tmp_path / "later" / "mountings.csv")}
    assert min(dates) > "2027-05-15"
    assert "2027-05-25" <= max(dates) <= "2027-06-01"


def test_what_goes_wrong_goes_wrong_in_eleven_mountings_and_can_be_left_out() -> None:
    assert sum(each.faulty for each in round_of(full=True, faults=True).mountings) == 11
    assert not any(each.faulty for each in round_of(full=True, faults=False).mountings)
