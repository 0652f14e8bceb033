"""XLSX workbooks, written here with openpyxl; and containers that mean harm."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Sequence

import numpy as np
import openpyxl
import pytest

from stillroom import errors
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source

READINGS: tuple[Sequence[object], ...] = (
    ("point", "flow [m³/h]", "p_s [Pa]", "n [rpm]"),
    (1, 36, 5.25, 1200),
    (2, 72.0, -4, 1200),
)


def workbook(sheets: dict[str, Sequence[Sequence[object]]], *, corner: tuple[int, int] = (1, 1)) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for i, row in enumerate(rows):
            for j, value in enumerate(row):
                sheet.cell(corner[0] + i, corner[1] + j, value)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def repacked(data: bytes, change: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in {*old.namelist(), *change}:
            new.writestr(name, change.get(name) or old.read(name))
    return stream.getvalue()


def test_readings_with_sheet_and_row() -> None:
    source = Source("a.xlsx", workbook({"Data": READINGS, "Empty": ()}))
    recording = read(source, understand(source).blocks[0].layout)
    np.testing.assert_allclose(recording.columns["flow"], [0.01, 0.02], rtol=1e-12)
    np.testing.assert_allclose(recording.columns["static_pressure"], [5.25, -4])
    np.testing.assert_allclose(recording.columns["speed"], [20, 20])
    assert recording.texts["point"] == ("1", "2")
    assert recording.lines == (2, 3)
    cell = recording.raw(0, "static_pressure")
    assert (cell.text, cell.place) == ("5.25", "a.xlsx, sheet 'Data', row 2, column 3")


def test_a_table_that_does_not_begin_in_the_corner_keeps_its_rows_and_columns() -> None:
    source = Source("a.xlsx", workbook({"Data": READINGS}, corner=(4, 3)))
    recording = read(source, understand(source).blocks[0].layout)
    assert recording.lines == (5, 6)
    assert recording.raw(1, "flow").column == 4


def test_unit_row_dates_and_sheet_by_hand() -> None:
    rows = (
        ("time", "flow", "p_s"),
        ("", "m³/h", "Pa"),
        (dt.datetime(2026, 3, 2, 10, 4, 30), 36, 5),
        (dt.date(2026, 3, 3), 72, 4),
    )
    source = Source("a.xlsx", workbook({"One": rows, "Two": READINGS}))
    assert [each.layout.sheet for each in understand(source).blocks] == ["One", "Two"]
    recording = read(source, understand(source, {"sheet": "One"}).blocks[0].layout)
    assert recording.texts["time"] == ("2026-03-02T10:04:30", "2026-03-03")
    with pytest.raises(errors.UnknownThing):
        understand(source, {"sheet": "Three"})


@pytest.mark.parametrize(
    ("cell", "found"), [("four", "'four'"), (None, "an empty cell"), ("1,5", "'1,5'"), (True, "'TRUE'")]
)
def test_a_cell_that_is_no_number(cell: object, found: str) -> None:
    source = Source("a.xlsx", workbook({"Data": (*READINGS, (3, cell, 4, 1200))}))
    with pytest.raises(errors.BadInput) as caught:
        read(source, understand(source).blocks[0].layout)
    assert found in str(caught.value)
    assert "row 4, column 2" in str(caught.value)


def test_an_empty_workbook_and_a_cut_one() -> None:
    whole = workbook({"Data": READINGS})
    with pytest.raises(errors.UnreadableFile):
        understand(Source("a.xlsx", workbook({"Data": ()})))
    for share in (0.2, 0.5, 0.9, 0.99):
        with pytest.raises(errors.UnreadableFile) as caught:
            understand(Source("a.xlsx", whole[: int(len(whole) * share)]))
        assert "a.xlsx" in str(caught.value)


def test_a_container_that_is_no_workbook() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as box:
        box.writestr("readme.txt", "hello")
    with pytest.raises(errors.UnreadableFile) as caught:
        understand(Source("a.zip", stream.getvalue()))
    assert "no xl/workbook.xml" in str(caught.value)


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    bomb = repacked(workbook({"Data": READINGS}), {"xl/worksheets/sheet2.xml": bytes(64 * 2**20)})
    assert len(bomb) < 100_000
    with pytest.raises(errors.BadInput) as caught:
        understand(Source("bomb.xlsx", bomb))
    assert "compressed" in str(caught.value)


def test_two_far_cells_do_not_fill_the_memory() -> None:
    data = workbook({"Data": READINGS})
    book = openpyxl.load_workbook(io.BytesIO(data))
    book["Data"]["XFD1048576"] = 1
    stream = io.BytesIO()
    book.save(stream)
    with pytest.raises(errors.BadInput) as caught:
        understand(Source("far.xlsx", stream.getvalue()))
    assert "1,048,576 rows and 16,384 columns" in str(caught.value)


def test_a_part_whose_bytes_were_changed_is_refused() -> None:
    data = bytearray(workbook({"Data": READINGS}))
    with zipfile.ZipFile(io.BytesIO(bytes(data))) as box:
        part = box.getinfo("xl/worksheets/sheet1.xml")
    data[part.header_offset + 80] ^= 0xFF
    with pytest.raises(errors.UnreadableFile):
        understand(Source("a.xlsx", bytes(data)))


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        (b'<row r="3"', b'<row r="2"', "two rows 2"),
        (b'<c r="B2"', b'<c r="A2"', "two cells in row 2, column 1"),
    ],
)
def test_a_row_or_a_cell_that_stands_there_twice(old: bytes, new: bytes, found: str) -> None:
    whole = workbook({"Data": READINGS})
    with zipfile.ZipFile(io.BytesIO(whole)) as box:
        sheet = box.read("xl/worksheets/sheet1.xml")
    assert old in sheet
    changed = repacked(whole, {"xl/worksheets/sheet1.xml": sheet.replace(old, new, 1)})
    with pytest.raises(errors.UnreadableFile, match=found):
        understand(Source("a.xlsx", changed))
