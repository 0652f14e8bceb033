"""Whatever the bytes are: readings or an error of ours, soon, without filling the memory."""

from __future__ import annotations

import contextlib
import io
import time
import tracemalloc

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom import errors
from stillroom.errors import StillroomError
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.paths.inference import infer_pattern
from stillroom.readers.paths.names import Pattern
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.registers.accuracy import parse_accuracy
from stillroom.readers.registers.rigs import read_rigs
from stillroom.readers.registers.tables import TableKind, read_table
from stillroom.readers.source import LINE_LIMIT, Source
from stillroom.readers.words.numbers import parse_number, parse_numbers

MANY = settings(max_examples=300, deadline=None, derandomize=True)
HEADER = b"flow [m3/h],p_s [Pa]\n"

cells = st.sampled_from(
    ["", "1", "1,5", "-2.5", "1e9", "nan", "inf", "Pa", "m³/h", "flow", "flow [m³/h]", "p_s [Pa]", "RH [%]",
     "nozzles", "N1+N2", '"', '"a"', "#", "# a: b", "Mean", "t", "dp [Pa]", "[", "()", "]", "\ufeff", "\x0b",
     "𝟙"]
)  # fmt: skip
tables = st.builds(
    lambda mark, end, rows: end.join(mark.join(row) for row in rows),
    st.sampled_from([",", ";", "\t", "|", " "]),
    st.sampled_from(["\n", "\r\n", "\r", "\n\n"]),
    st.lists(st.lists(cells, min_size=1, max_size=6), max_size=8),
)


def try_to_read(data: bytes, overrides: dict[str, str] | None = None) -> None:
    """Readings that are finite, or an error that names the file."""
    source = Source("odd.csv", data)
    recording: Recording | None = None
    place = ""
    try:
        recording = read(source, understand(source, overrides).blocks[0].layout)
    except StillroomError as error:
        place = error.place
    if recording is None:
        assert "odd.csv" in place
        return
    assert len(recording) > 0
    for values in recording.columns.values():
        assert values.shape == (len(recording),)
        assert np.isfinite(values).all()


@MANY
@given(st.binary(max_size=400))
def test_random_bytes(data: bytes) -> None:
    try_to_read(data)
    try_to_read(HEADER + data)


@MANY
@given(tables, st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-32"]))
def test_text_like_tables(text: str, encoding: str) -> None:
    try_to_read(text.encode(encoding, "ignore"))


@MANY
@given(st.text(max_size=200))
def test_any_text_under_a_header(text: str) -> None:
    try_to_read(HEADER + text.encode("utf-8", "ignore"))


@MANY
@given(tables, st.dictionaries(st.text(max_size=12) | st.just("unit:flow"), st.text(max_size=8), max_size=3))
def test_any_overrides(text: str, overrides: dict[str, str]) -> None:
    try_to_read(HEADER + text.encode(), overrides)


@MANY
@given(st.binary(max_size=300) | tables.map(str.encode))
def test_any_bytes_as_a_lab_table(data: bytes) -> None:
    kinds = (TableKind("fan", ("fan",), ("flow",)), TableKind("odd", ("flow", "RH")))
    with contextlib.suppress(StillroomError):
        for row in read_table(Source("odd.csv", data), kinds).rows:
            for cell in row.values():
                for ask in (cell.number, cell.whole, cell.date, cell.time, cell.yes_no):
                    with contextlib.suppress(StillroomError):
                        ask()


RIGS = b"""
[rig.r]
speed = "t"
[instrument.t]
quantity = "speed"
accuracy = "+/- 2 rpm"
[instrument.t.calibration]
date = 2026-01-01
offset = "1 rpm"
linearity = [{ from = "0 rpm", to = "10 1/s", u = "1 rpm" }]
[nozzle.n]
bore = "12 mm"
length_ratio = 0.6
"""


@MANY
@given(st.integers(0, len(RIGS)), st.binary(max_size=12), st.integers(0, 20))
def test_a_rig_file_changed_anywhere(at: int, piece: bytes, removed: int) -> None:
    with contextlib.suppress(StillroomError):
        read_rigs(Source("rigs.toml", RIGS[:at] + piece + RIGS[at + removed :]))


def _small_workbook() -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (("flow [m³/h]", "p_s [Pa]"), (36, 5), (72, "x")):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


WORKBOOK = _small_workbook()


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.integers(0, len(WORKBOOK)), st.binary(min_size=1, max_size=8), st.integers(0, 8))
def test_a_workbook_changed_anywhere(at: int, piece: bytes, removed: int) -> None:
    try_to_read(WORKBOOK[:at] + piece + WORKBOOK[at + removed :])


@MANY
@given(st.text(max_size=60) | st.text("±%+-0123456789., ofFSreadingPa()k=", max_size=40))
def test_any_accuracy(text: str) -> None:
    with contextlib.suppress(StillroomError):
        assert parse_accuracy(text, quantity="static_pressure").half_width(10.0) > 0


@MANY
@given(st.lists(st.text("ab17sm_-/. %pctrVé\\", min_size=1, max_size=30), max_size=5))
def test_any_names(paths: list[str]) -> None:
    with contextlib.suppress(StillroomError):
        pattern = infer_pattern(paths)
        for path in paths:
            assert set(pattern.match(path)) == set(pattern.fields)


@MANY
@given(st.text("{}fandutyspel_/-1", max_size=40), st.text(max_size=40))
def test_any_pattern(text: str, path: str) -> None:
    with contextlib.suppress(StillroomError):
        Pattern(text).match(path)


@MANY
@given(st.text(max_size=100))
def test_any_layout_file(text: str) -> None:
    with contextlib.suppress(StillroomError):
        Layout.from_toml(text)


@MANY
@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from([".", ","]))
def test_numbers_are_read_exactly(value: float, decimal: str) -> None:
    text = repr(value).replace(".", decimal)
    assert parse_number(text, decimal) == value
    numbers, bad = parse_numbers([text, " " + text], decimal)
    assert bad == -1
    assert list(numbers) == [value, value]


@MANY
@given(
    st.lists(st.text("0123456789.,-+e_ nif", max_size=8), min_size=1, max_size=5), st.sampled_from([".", ","])
)
def test_the_quick_way_and_the_slow_way_agree(texts: list[str], decimal: str) -> None:
    values, bad = parse_numbers(texts, decimal)
    for index, text in enumerate(texts):
        if bad >= 0 and index > bad:
            break
        if index == bad:
            with pytest.raises(ValueError):
                parse_number(text, decimal)
        else:
            assert parse_number(text, decimal) == values[index]


def test_a_million_rows_in_seconds() -> None:
    rows = "".join(f"{i},{i / 1000:.3f},{1200 + i % 7}\n" for i in range(1000))
    data = b"flow [m3/h],p_s [Pa],n [rpm]\n" + rows.encode() * 1000
    source = Source("long.csv", data)
    begun = time.process_time()
    recording = read(source, understand(source).blocks[0].layout)
    assert time.process_time() - begun < 10
    assert len(recording) == 1_000_000
    assert recording.columns["static_pressure"][-1] == pytest.approx(0.999)
    assert recording.lines[-1] == 1_000_001


def test_memory_stays_near_the_readings_own() -> None:
    data = b"flow [m3/h],p_s [Pa],n [rpm]\n" + b"36,5,1200\n" * 100_000
    source = Source("long.csv", data)
    layout = understand(source).blocks[0].layout
    tracemalloc.start()
    read(source, layout)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # Readings: 3 columns of 8 bytes and 44 bytes for the line's number, twice while they are joined.
    assert peak < 100_000 * 2 * (3 * 8 + 44) + 20e6


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (b",".join([b"c"] * 100_000) + b"\n" + b",".join([b"1"] * 100_000) + b"\n", "columns"),
        (HEADER + b"," * 100_000 + b"\n", "100,001 columns"),
        (HEADER + b"1" * (LINE_LIMIT + 10), "characters"),
        (b"x" * 5_000_000, "characters"),
        (HEADER + b'"' + b"1,2\n" * 200_000, "told apart"),
    ],
)
def test_absurd_shapes_are_refused_quickly(data: bytes, part: str) -> None:
    source = Source("odd.csv", data)
    begun = time.process_time()
    with pytest.raises(errors.BadInput) as caught:
        read(source, understand(source).blocks[0].layout)
    assert time.process_time() - begun < 3
    assert part in str(caught.value)


def test_a_file_over_the_limit_is_refused() -> None:
    with pytest.raises(errors.BadInput) as caught:
        understand(Source("big.csv", HEADER * 100, limit=1000))
    assert "at most" in str(caught.value)
