"""XLSX, XLS and ODS workbooks that say the same are read the same: sheets, merges, dates, formulas, errors."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from collections.abc import Callable, Mapping, Sequence

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from old_workbooks import (
    ODS_KIND,
    Error,
    Formula,
    Merges,
    Percent,
    Rows,
    Value,
    compound_file,
    ods,
    ods_content,
    ods_of,
    xls,
    xls_stream,
)

from stillroom import errors
from stillroom.readers.source import Source
from stillroom.readers.workbooks import compound
from stillroom.readers.workbooks.merged import Span, spread
from stillroom.readers.workbooks.workbook import choose_sheet, passed_over, sheet_names, sheet_rows


def xlsx(
    sheets: Mapping[str, Rows], *, hidden: Sequence[str] = (), merges: Mapping[str, Merges] | None = None
) -> bytes:
    """The same workbook as XLSX, by openpyxl; it keeps no values of formulas, so none is written as one."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for i, row in enumerate(rows, 1):
            for j, value in enumerate(row, 1):
                _put(sheet.cell(i, j), value)
        if name in hidden:
            sheet.sheet_state = "hidden"
        for top, bottom, left, right in (merges or {}).get(name, ()):
            sheet.merge_cells(
                start_row=top + 1, end_row=bottom + 1, start_column=left + 1, end_column=right + 1
            )
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _put(cell: openpyxl.cell.Cell, value: Value) -> None:
    if isinstance(value, Percent):
        cell.value, cell.number_format = value.value, "0%"
    elif isinstance(value, dt.timedelta):
        cell.value, cell.number_format = value, "[h]:mm:ss"
    elif isinstance(value, Formula):
        cell.value = value.kept if value.kept is not None else f"={value.text}"
    else:
        cell.value = value.words if isinstance(value, Error) else value


Make = Callable[..., bytes]
KINDS = pytest.mark.parametrize("make", [xlsx, xls, ods])
READINGS: Rows = (
    ("duty", "flow [m³/h]", "p_s [Pa]", "time", "elapsed", "rh", "ok"),
    (
        0.4,
        36,
        5.25,
        dt.datetime(2026, 3, 2, 10, 4, 30),
        dt.timedelta(hours=30, minutes=1),
        Percent(0.45),
        True,
    ),
    (None, 72.0, -4, dt.date(2026, 3, 3), dt.timedelta(seconds=61), Percent(0.5), False),
    (0.6, Formula(108.5), 1e-7, dt.datetime(2026, 3, 3, 0, 0, 1), dt.timedelta(hours=1), Percent(1), True),
)


def rows_of(data: bytes, sheet: str) -> list[tuple[int, list[str]]]:
    return list(sheet_rows(Source("a", data), sheet))


@KINDS
def test_cells_of_every_kind(make: Make) -> None:
    data = make({"Data": READINGS})
    assert rows_of(data, "Data") == [
        (1, ["duty", "flow [m³/h]", "p_s [Pa]", "time", "elapsed", "rh", "ok"]),
        (2, ["0.4", "36", "5.25", "2026-03-02 10:04:30", "PT30H01M00S", "0.45", "TRUE"]),
        (3, ["", "72", "-4", "2026-03-03", "00:01:01", "0.5", "FALSE"]),
        (4, ["0.6", "108.5", "1e-07", "2026-03-03 00:00:01", "01:00:00", "1", "TRUE"]),
    ]


@KINDS
def test_sheets_come_in_their_order_and_those_passed_over_say_why(make: Make) -> None:
    data = make({"Notes": [], "Second": READINGS, "Old": READINGS, "First": READINGS}, hidden=["Old"])
    source = Source("a", data)
    assert sheet_names(source) == ("Second", "First")
    assert passed_over(source) == ("sheet 'Notes': empty", "sheet 'Old': hidden")
    assert choose_sheet(source, "Old") == "Old"
    assert len(rows_of(data, "Old")) == 4
    with pytest.raises(errors.Contradiction, match="'Second', 'First'"):
        choose_sheet(source)
    with pytest.raises(errors.UnknownThing, match="'Notes', 'Second', 'Old', 'First'"):
        rows_of(data, "Third")
    with pytest.raises(errors.UnreadableFile, match="empty"):
        choose_sheet(Source("a", make({"Notes": []})))


@KINDS
def test_a_merged_setting_counts_for_all_its_rows_and_a_title_for_none(make: Make) -> None:
    rows = (("Report of a bench", None, None), *(row[:3] for row in READINGS))
    data = make({"Data": rows}, merges={"Data": [(0, 0, 0, 2), (2, 3, 0, 0)]})
    read = [cells for _, cells in rows_of(data, "Data")]
    assert [cell for cell in read[0] if cell] == ["Report of a bench"]
    assert [cells[0] for cells in read[1:]] == ["duty", "0.4", "0.4", "0.6"]


@KINDS
def test_a_merged_heading_over_names_makes_way_for_them(make: Make) -> None:
    rows = (("point", "Pressures", None, "n [rpm]"), (None, "p_s [Pa]", "dp [Pa]", None), (1, 5, 6, 1200))
    data = make({"Data": rows}, merges={"Data": [(0, 1, 0, 0), (0, 0, 1, 2), (0, 1, 3, 3)]})
    assert [cells for _, cells in rows_of(data, "Data")] == [
        [],
        ["point", "p_s [Pa]", "dp [Pa]", "n [rpm]"],
        ["1", "5", "6", "1200"],
    ]


@KINDS
def test_a_merged_header_over_units_stands_in_each_column(make: Make) -> None:
    rows = (("point", "static pressure", None), (None, "Pa", "mmH2O"), (1, 5, 0.51))
    data = make({"Data": rows}, merges={"Data": [(0, 0, 1, 2)]})
    assert [cells for _, cells in rows_of(data, "Data")] == [
        ["point", "static pressure", "static pressure"],
        ["", "Pa", "mmH2O"],
        ["1", "5", "0.51"],
    ]


@KINDS
def test_an_error_is_its_words(make: Make) -> None:
    data = make({"Data": (("flow", "p"), (Error(), 5), (Error(), Error()))})
    assert [cells for _, cells in rows_of(data, "Data")] == [["flow", "p"], ["#DIV/0!", "5"], ["#DIV/0!"] * 2]


@pytest.mark.parametrize("make", [xlsx, ods])
def test_a_formula_without_a_kept_value_is_its_text_and_nothing_is_calculated(make: Make) -> None:
    data = make({"Data": (("flow", "p"), (1, Formula(None, "A1+1")), (2, Formula(None, "A1+1")))})
    assert [cells for _, cells in rows_of(data, "Data")] == [["flow", "p"], ["1", "=A1+1"], ["2", "=A1+1"]]


def test_an_old_formula_that_kept_nothing_is_empty() -> None:
    assert rows_of(xls({"Data": (("flow", "p"), (1, Formula(None)))}), "Data")[1] == (2, ["1", ""])


@KINDS
def test_long_gaps_are_cut_and_row_numbers_kept(make: Make) -> None:
    rows: list[Sequence[Value]] = [("flow", "p"), *([()] * 300), (1, 2)]
    read = rows_of(make({"Data": rows}), "Data")
    assert read[0][0] == 1
    assert read[-1] == (302, ["1", "2"])
    assert len(read) == 102


def test_repeated_cells_and_rows_of_an_open_workbook_are_unfolded() -> None:
    cell = (
        '<table:table-cell office:value-type="float" office:value="1"><text:p>1</text:p></table:table-cell>'
    )
    content = ods_content({"Data": ((1, None), (2, 3))})
    content = content.replace(
        cell, cell.replace("<table:table-cell", '<table:table-cell table:number-columns-repeated="3"')
    )
    content = content.replace("<table:table-row>", '<table:table-row table:number-rows-repeated="2">', 1)
    content = content.replace(
        "</table:table>",
        '<table:table-row table:number-rows-repeated="1048572">'
        '<table:table-cell table:number-columns-repeated="16384"/></table:table-row></table:table>',
    )
    assert [cells for _, cells in rows_of(ods_of(content), "Data")] == [
        ["1", "1", "1"],
        ["1", "1", "1"],
        ["2", "3", ""],
    ]


@pytest.mark.parametrize(
    ("columns", "rows"), [(10**6, 1), (10**6, 10**6), (16_384, 1000), (1, 10**7), (10**9, 10**9)]
)
def test_an_open_workbook_that_would_fill_the_memory_is_refused(columns: int, rows: int) -> None:
    content = ods_content({"Data": ((1,),)})
    content = content.replace(
        "<table:table-cell", f'<table:table-cell table:number-columns-repeated="{columns}"'
    )
    content = content.replace("<table:table-row", f'<table:table-row table:number-rows-repeated="{rows}"')
    with pytest.raises(errors.BadInput, match=r"at most|repeated of"):
        sheet_names(Source("bomb.ods", ods_of(content)))


def test_entities_are_not_unfolded() -> None:
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    content = ods_content({"Data": ((1,),)}).replace("<office:document", bomb + "<office:document", 1)
    with pytest.raises(errors.UnreadableFile, match="document type"):
        sheet_names(Source("a.ods", ods_of(content)))


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("<a>", "no element found"),
        ("<office:p/>", "unbound prefix"),
        ("<a/>", "no sheet in it"),
        (ods_content({"Data": READINGS}).replace("</text:p>", "</text:q>", 1), "mismatched tag"),
        (ods_content({"A": READINGS, "B": READINGS}).replace('"B"', '"A"'), "two sheets called 'A'"),
    ],
)
def test_open_workbooks_that_are_damaged(content: str, found: str) -> None:
    with pytest.raises(errors.UnreadableFile, match=found):
        sheet_names(Source("a.ods", ods_of(content)))


def test_containers_of_other_things_say_what_is_missing() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as box:
        box.writestr("mimetype", ODS_KIND)
    with pytest.raises(errors.UnreadableFile, match=r"no xl/workbook\.xml"):
        sheet_names(Source("a.ods", stream.getvalue()))
    with pytest.raises(errors.UnreadableFile, match="no workbook in it"):
        sheet_names(Source("a.doc", compound_file(b"x" * 5000, "WordDocument")))
    with pytest.raises(errors.UnreadableFile, match="password"):
        sheet_names(Source("a.xlsx", compound_file(b"x" * 5000, "EncryptedPackage")))


def test_an_old_workbook_with_a_password_or_far_cells_is_refused() -> None:
    stream = xls_stream({"Data": READINGS})
    locked = stream[:20] + struct.pack("<HHH", 0x002F, 2, 0) + stream[20:]
    with pytest.raises(errors.UnreadableFile, match="password"):
        sheet_names(Source("a.xls", compound_file(locked)))
    far = (*([()] * 65_535), (*([None] * 255), 1))
    with pytest.raises(errors.BadInput, match="65,536 rows and 256 columns"):
        sheet_names(Source("a.xls", xls({"Data": (READINGS[1], *far[1:])})))


@pytest.mark.parametrize(
    "name", ["../up", "C:\\a", "CON", "a.", "x" * 300, "tab\there", "\u202egpj", "a\u200bb"]
)
def test_odd_names_of_sheets_are_only_names(name: str) -> None:
    data = ods({name: READINGS})
    source = Source("a.ods", data)
    assert len(rows_of(data, sheet_names(source)[0])) == 4
    with pytest.raises(errors.UnknownThing) as caught:
        rows_of(data, "other")
    assert str(caught.value).isprintable()


def test_what_a_text_shows_of_a_sheet_is_what_a_person_would_type() -> None:
    """Line breaks and doubled blanks within a cell of an open workbook (OpenDocument 1.3, 6.1.2 and 6.1.3)."""
    content = ods_content({"Data": (("a", "b"),)})
    content = content.replace(
        "<text:p>a</text:p>", '<text:p>a<text:s text:c="2"/>c</text:p><text:p>d</text:p>'
    )
    assert rows_of(ods_of(content), "Data")[0][1] == ["a  c\nd", "b"]


@pytest.mark.parametrize("size", [0, 1, 4095, 4096, 4097, 70_000, 8_000_000])
def test_a_compound_file_gives_back_its_stream(size: int) -> None:
    """[MS-CFB] 2.3 to 2.5: with one table of sectors, with several, and with lists of tables beyond 6.8 MiB."""
    stream = bytes(range(251)) * (size // 251) + bytes(range(size % 251))
    whole = compound.compound_file(stream, "Workbook")
    assert compound.CompoundFile(whole).stream("Workbook")[:size] == stream
    if size < 7_000_000:
        assert compound.CompoundFile(compound_file(stream)).stream("Workbook")[:size] == stream


cells = (
    st.none()
    | st.booleans()
    | st.integers(-(10**9), 10**9)
    | st.text("ab µ²", max_size=5).map(str.strip)
    | st.floats(allow_nan=False, allow_infinity=False, width=64)
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.lists(cells, min_size=1, max_size=5), min_size=1, max_size=6))
def test_the_kinds_agree(rows: list[list[Value]]) -> None:
    """Our reading of ODS against the library's of XLS."""
    ours, others = (
        [(number, list(cells)) for number, cells in rows_of(make({"Data": rows}), "Data")]
        for make in (ods, xls)
    )
    width = max((len(cells) for _, cells in ours + others), default=0)
    for one, other in zip(ours, others, strict=True):
        assert one[0] == other[0]
        assert one[1] + [""] * (width - len(one[1])) == other[1] + [""] * (width - len(other[1]))


def test_spread_leaves_rows_without_merges_alone() -> None:
    rows = [(1, ["a", "b"]), (2, ["1", ""])]
    assert list(spread(iter(rows), [])) == rows
    assert list(spread(iter(rows), [Span(5, 6, 1, 1)])) == rows
