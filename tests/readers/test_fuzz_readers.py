"""Every reader against bytes that nobody meant: an error of ours, soon, in little memory; never anything else.

The examples are the same each time. `READER_FUZZ=20 pytest tests/readers/test_fuzz_readers.py` tries twenty
times as many, others each time.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import time
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from old_workbooks import (
    Error,
    Formula,
    Percent,
    Rows,
    compound_file,
    ods,
    ods_content,
    ods_of,
    xls,
    xls_stream,
)

from stillroom.errors import StillroomError
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.understanding import missing_units, understand
from stillroom.readers.paths.inference import infer_pattern
from stillroom.readers.paths.names import Pattern
from stillroom.readers.paths.safe import safe_name
from stillroom.readers.reading.recording import read
from stillroom.readers.registers.accuracy import parse_accuracy
from stillroom.readers.registers.rigs import read_rigs
from stillroom.readers.registers.tables import TableKind, read_table, table_kind
from stillroom.readers.source import LINE_LIMIT, Source
from stillroom.readers.workbooks.workbook import passed_over, sheet_names, sheet_rows
from stillroom.store.originals import plain_name

TIMES = int(os.environ.get("READER_FUZZ", "1"))
SECONDS = 3.0
MEBIBYTES = 200


def some(count: int) -> settings:
    return settings(max_examples=count * TIMES, deadline=None, derandomize=TIMES == 1)


@contextlib.contextmanager
def only_ours(seconds: float = SECONDS) -> Iterator[None]:
    """Whatever happens within is an error of ours or none, and takes no longer than it may."""
    begun = time.process_time()
    with contextlib.suppress(StillroomError):
        yield
    assert time.process_time() - begun < seconds


@contextlib.contextmanager
def little_memory(mebibytes: float = MEBIBYTES) -> Iterator[None]:
    tracemalloc.start()
    try:
        yield
        assert tracemalloc.get_traced_memory()[1] < mebibytes * 2**20
    finally:
        tracemalloc.stop()


KINDS = (TableKind("fan", ("fan",), ("flow", "speed")), TableKind("odd", ("flow", "RH")))


def read_measurement(data: bytes) -> None:
    source = Source("odd.csv", data)
    for each in understand(source).blocks:
        read(source, each.layout)


def ask_units(data: bytes) -> None:
    missing_units(Source("odd.csv", data))


def read_lab_table(data: bytes) -> None:
    source = Source("odd.csv", data)
    table_kind(source, KINDS)
    for row in read_table(source, KINDS).rows:
        for cell in row.values():
            for ask in (cell.number, cell.whole, cell.date, cell.time, cell.yes_no, cell.names):
                with contextlib.suppress(StillroomError):
                    ask()


def read_rig(data: bytes) -> None:
    read_rigs(Source("rigs.toml", data))


def read_layout(data: bytes) -> None:
    Layout.from_toml(Source("layout.toml", data).text())


def read_workbook(data: bytes) -> None:
    source = Source("odd.xlsx", data)
    passed_over(source)
    for name in sheet_names(source):
        for _, cells in sheet_rows(source, name):
            assert all(isinstance(cell, str) for cell in cells)


CORPUS = [
    path.read_bytes()
    for path in sorted((Path(__file__).parent / "ordinary").iterdir())
    if path.suffix != ".json" and path.stat().st_size < 6000 and not path.read_bytes().startswith(b"PK")
]
RIGS = b"""
[rig.r]
speed = "t"
nozzles = ["n"]
[instrument.t]
quantity = "speed"
accuracy = "+/- 2 rpm"
[[instrument.t.calibration]]
date = 2026-01-01
offset = "1 rpm"
linearity = [{ from = "0 rpm", to = "10 1/s", u = "1 rpm" }]
[nozzle.n]
bore = "12 mm"
length_ratio = 0.6
"""
SAVED = b"""
name = "a"
delimiter = ","
block = 1
[[columns]]
header = "p"
quantity = "static_pressure"
unit = "Pa"
[[columns]]
header = "Q"
quantity = "flow"
unit = "m\xc2\xb3/h"
"""
TEXT_READERS: dict[str, tuple[Callable[[bytes], None], list[bytes]]] = {
    "measurement": (read_measurement, CORPUS),
    "units to ask for": (ask_units, CORPUS),
    "table of the lab": (read_lab_table, [*CORPUS, b"fan,flow [m3/h],speed [rpm]\nA,36,1200\nB,72,\n"]),
    "rigs": (read_rig, [RIGS]),
    "layout": (read_layout, [SAVED]),
}
READERS = pytest.mark.parametrize("name", TEXT_READERS)


def cut(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def doubled(data: bytes, chance: random.Random) -> bytes:
    at, length = chance.randrange(len(data) + 1), chance.randrange(200)
    return data[:at] + data[at : at + length] * chance.choice([2, 3, 50]) + data[at:]


def flipped(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice([1, 2, 8])):
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def recoded(data: bytes, chance: random.Random) -> bytes:
    text = data.decode("utf-8", "replace")
    return text.encode(
        chance.choice(["utf-16", "utf-16-le", "utf-32", "cp1252", "cp850", "utf-8-sig"]), "replace"
    )


PIECES = [
    *(
        b"\0",
        b'"',
        b"'",
        b'""',
        b"\r",
        b"\n\n",
        b"\x1a",
        b"\xff\xfe",
        b"\xef\xbb\xbf",
        "\u202e".encode(),
        b"#",
        b"=",
    ),
    *(
        b"1e999",
        b"-1e-999",
        b"nan",
        b"9" * 400,
        b"1_0",
        b"0x1",
        b"[" * 50,
        b"(" * 50,
        b"{" * 50,
        b",,,,",
        b";;;",
        b"\t",
    ),
    *(
        b"=1+1",
        b"+A1",
        b"@SUM(A1)",
        b"Pa]",
        b"[m3/h",
        b"1.234,5",
        b"1,234.5",
        b"01.02.03",
        b"Mean",
        b"Sweep 2",
        b": ",
    ),
]


def spiked(data: bytes, chance: random.Random) -> bytes:
    for _ in range(chance.choice([1, 1, 3])):
        at = chance.randrange(len(data) + 1)
        data = data[:at] + chance.choice(PIECES) + data[at + chance.choice([0, 0, 1, 9]) :]
    return data


def shuffled(data: bytes, chance: random.Random) -> bytes:
    lines = data.splitlines(keepends=True)
    chance.shuffle(lines)
    return b"".join(lines)


CHANGES = (cut, doubled, flipped, recoded, spiked, shuffled)
changes = st.lists(st.sampled_from(CHANGES), min_size=1, max_size=3)


@READERS
@some(300)
@given(data=st.binary(max_size=300))
def test_bytes_at_random(name: str, data: bytes) -> None:
    with only_ours():
        TEXT_READERS[name][0](data)


@READERS
@some(500)
@given(steps=changes, seed=st.integers(0, 2**32))
def test_files_that_were_changed(
    name: str, steps: list[Callable[[bytes, random.Random], bytes]], seed: int
) -> None:
    reader, originals = TEXT_READERS[name]
    chance = random.Random(seed)
    data = chance.choice(originals)
    for step in steps:
        data = step(data, chance) or b" "
    with only_ours():
        reader(data)


TABLE = b"point,flow [m3/h],p_s [Pa]\n" + b"".join(b"%d,%d,5\n" % (i, 10 + i) for i in range(30))
HUGE: dict[str, bytes] = {
    "a million columns": b",".join([b"c"] * 10**6) + b"\n" + b",".join([b"1"] * 10**6) + b"\n",
    "a million empty columns": TABLE + b"," * 10**6 + b"\n",
    "a cell of a million signs": TABLE + b"1," + b"9" * 10**6 + b",5\n",
    "a quoted cell of a million signs": TABLE + b'1,"' + b"x\n" * 500_000 + b'",5\n',
    "a line without end": b"flow [m3/h]" * 10**6,
    "a hundred thousand blank lines": TABLE + b"\n" * 10**5 + TABLE.partition(b"\n")[2],
    "blank lines only": b"\r\n" * 10**5,
    "many comments": b"# a: b\n" * 20_000 + TABLE,
    "many titles": TABLE + b"Sweep 1\n" * 10_000,
    "ten thousand tables": TABLE[:60] * 2_000,
    "brackets without end": b"[" * 10**5 + b"\n" + b"flow ([{" * 10_000,
    "quotes without end": TABLE + b'"' * 10**6,
    "numbers without end": b"flow [m3/h],p_s [Pa]\n" + b"1" * 200_000 + b"," + b"1" * 50_000 + b"\n",
    "an exponent without end": b"flow [m3/h],p_s [Pa]\n1e" + b"9" * 100_000 + b",1\n",
    "a name in each line": b"".join(b"name %d: value\n" % i for i in range(10_000)) + TABLE,
    "noughts": bytes(5 * 10**6),
    "a header of a thousand units": b",".join(b"p_s [%s]" % (b"Pa" * (i + 1)) for i in range(450))
    + b"\n1,2\n",
    "blanks without end": b" " * (LINE_LIMIT - 10) + b"\n" + b"a  b" * 60_000 + b"\n",
    "dashes": b"-" * 200_000 + b"\n" + TABLE + b"-,-,-\n" * 10_000,
    "keys in keys": b"a" + b".a" * 100_000 + b" = 1\n",
    "arrays in arrays": b"a = " + b"[" * 100_000,
    "tables in tables": b"[a" + b".a" * 50_000 + b"]\n",
    "a number of many digits": b"a = " + b"9" * 100_000 + b"\n",
}


@READERS
@pytest.mark.parametrize("shape", HUGE)
def test_shapes_that_are_absurd(name: str, shape: str) -> None:
    with only_ours(10.0):
        TEXT_READERS[name][0](HUGE[shape])


@pytest.mark.parametrize("shape", ["a million columns", "a cell of a million signs", "a line without end", "noughts",
                                   "a hundred thousand blank lines", "quotes without end"])  # fmt: skip
def test_shapes_that_are_absurd_take_little_memory(shape: str) -> None:
    with only_ours(20.0), little_memory():
        read_measurement(HUGE[shape])


@some(300)
@given(st.text(max_size=60) | st.text("±%+-0123456789., ofFSreadingPa()k=eE/", max_size=60))
def test_accuracies(text: str) -> None:
    with only_ours():
        assert parse_accuracy(text).half_width(1.0) > 0


@pytest.mark.parametrize(
    "text", ["±" * 10**6, "1 %" * 10**5, "(" * 10**6, "9" * 10**6 + " %", "0.1 % FS of " + "9" * 199]
)
def test_absurd_accuracies(text: str) -> None:
    with only_ours(1.0), little_memory(50):
        parse_accuracy(text)


letters = st.text("ab17sm_-/. %pctrVé\\:\0\u202eCON{}", min_size=1, max_size=40)


@some(200)
@given(st.lists(letters, max_size=5), letters)
def test_names_of_files(paths: list[str], pattern: str) -> None:
    with only_ours():
        infer_pattern(paths)
    with only_ours():
        Pattern(pattern).match(paths[0] if paths else "a.csv")


@pytest.mark.parametrize(
    "pattern", ["{a}" * 50, "{" * 10**5, "{fan}{sample}{duty}{speed}{rig}", "{any}-" * 40 + "{fan}"]
)
def test_a_pattern_takes_no_time_without_end(pattern: str) -> None:
    for path in ("a" * 500 + ".csv", "a-" * 200 + "!.csv", "1" * 500 + "/.csv"):
        with only_ours(1.0):
            Pattern(pattern).match(path)


@some(300)
@given(st.text(max_size=40) | letters)
def test_a_name_that_is_kept_is_safe_everywhere(name: str) -> None:
    assert safe_name(plain_name(name))


ODD_NAMES = (
    "../../etc/passwd", "/abs", "C:\\x", "C:x", "\\\\host\\x", "a/../b", "CON", "nul.csv", "com1 .txt", "a.", "a ",
    "x" * 300, "tab\t", "nul\0", "rtl\u202e", "a\u200bb", "line\u2028", "a:b", "a?", "", ".", "..", "lone\udcff",
)  # fmt: skip


@pytest.mark.parametrize("name", ODD_NAMES)
def test_odd_names_do_no_harm(name: str) -> None:
    with pytest.raises(StillroomError):
        safe_name(name)
    assert safe_name(plain_name(name))
    with pytest.raises(StillroomError) as caught:
        understand(Source(name, b"a\nb\n"))
    assert str(caught.value).isprintable()


ROWS: Rows = (
    ("duty", "flow [m³/h]", "p_s [Pa]", "share"),
    *((0.4, 36 + i, 5.25, Percent(0.5)) for i in range(8)),
    (0.6, Formula(3.0), Error(), True),
)


def _xlsx() -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    for i in range(8):
        sheet.append([f"row {i}", i, i / 7, i > 3])
    sheet.merge_cells("A2:A4")
    sheet["E2"] = "=1+2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


STREAM = xls_stream({"One": ROWS, "Two": ROWS}, merges={"One": [(1, 2, 0, 0)]})
NUMBER = re.compile(r"\d+")
TAG = re.compile(r"<[^>]*>")
BITS = [
    "",
    '"',
    "<",
    ">",
    "&",
    "-1",
    "1e999",
    "9" * 30,
    "XFD1048576",
    "xfd99",
    "<v>",
    "</v>",
    't="e"',
    "\ud7ff",
    "/",
    "&#0;",
]
BIG = ["0", "-1", "99999999", "4294967296", "1e308", "18446744073709551616", "XFD1048576", "70000"]


def parts_of(data: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(data)) as box:
        return {name: box.read(name).decode() for name in box.namelist()}


PARTS = {
    "xlsx": parts_of(_xlsx()),
    "ods": parts_of(ods({"One": ROWS, "Two": ROWS}, merges={"One": [(1, 2, 0, 0)]})),
}
WORTH_CHANGING = {
    "xlsx": ["xl/worksheets/sheet1.xml"] * 3
    + ["xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels"],
    "ods": ["content.xml"] * 5 + ["META-INF/manifest.xml", "mimetype"],
}


def packed(parts: dict[str, str]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as box:
        for name, text in parts.items():
            box.writestr(name, text.encode("utf-8", "replace"))
    return stream.getvalue()


def changed_xml(text: str, chance: random.Random) -> str:
    for _ in range(chance.choice([0, 1, 2])):
        at = chance.randrange(len(text) + 1)
        text = text[:at] + chance.choice(BITS) + text[at + chance.choice([0, 0, 1, 12]) :]
    for _ in range(chance.choice([0, 1, 3])):
        hits = list(NUMBER.finditer(text))
        if hits:
            hit = chance.choice(hits)
            text = text[: hit.start()] + chance.choice(BIG) + text[hit.end() :]
    if chance.random() < 0.3 and (hits := list(TAG.finditer(text))):
        one, other = chance.choice(hits), chance.choice(hits)
        text = text[: one.start()] + other.group() * chance.choice([1, 1, 40]) + text[one.start() :]
    return text


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
@some(300)
@given(seed=st.integers(0, 2**32))
def test_workbooks_of_xml_that_were_changed(kind: str, seed: int) -> None:
    chance = random.Random(seed)
    parts = dict(PARTS[kind])
    name = chance.choice(WORTH_CHANGING[kind])
    parts[name] = changed_xml(parts[name], chance)
    with only_ours():
        read_workbook(packed(parts))


def changed_bytes(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice([1, 1, 2, 5, 20])):
        at = (
            chance.randrange(len(changed))
            if chance.random() < 0.5
            else chance.randrange(min(len(changed), 2500))
        )
        if chance.random() < 0.7:
            changed[at] = chance.choice([0, 1, 127, 128, 255, chance.randrange(256)])
        else:
            other = chance.randrange(len(changed))
            changed[at : at + 4] = changed[other : other + 4]
    return bytes(changed[: chance.randrange(1, len(changed))] if chance.random() < 0.1 else changed)


@some(300)
@given(seed=st.integers(0, 2**32), inside=st.booleans())
def test_old_workbooks_that_were_changed(seed: int, inside: bool) -> None:
    """Within their records, and anywhere in the container."""
    chance = random.Random(seed)
    if inside:
        data = compound_file(changed_bytes(STREAM, chance))
    else:
        data = changed_bytes(xls({"One": ROWS, "Two": ROWS}), chance)
    with only_ours():
        read_workbook(data)


@some(150)
@given(seed=st.integers(0, 2**32), kind=st.sampled_from(["xlsx", "ods"]))
def test_containers_that_were_changed(seed: int, kind: str) -> None:
    with only_ours():
        read_workbook(changed_bytes(packed(PARTS[kind]), random.Random(seed)))


def nested() -> bytes:
    """A workbook in a workbook in a workbook: only the outermost is a workbook's container."""
    data = _xlsx()
    for _ in range(20):
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as box:
            box.writestr("xl/workbook.xml", data)
        data = stream.getvalue()
    return data


def deep(kind: str) -> bytes:
    name = WORTH_CHANGING[kind][0]
    return packed({**PARTS[kind], name: "<a>" * 100_000 + "</a>" * 100_000})


def with_row(attributes: str, cell: str) -> bytes:
    text = PARTS["xlsx"]["xl/worksheets/sheet1.xml"]
    at = text.index("</sheetData>")
    return packed(
        {**PARTS["xlsx"], "xl/worksheets/sheet1.xml": f"{text[:at]}<row {attributes}>{cell}</row>{text[at:]}"}
    )


BOMBS: dict[str, Callable[[], bytes]] = {
    "nested": nested,
    "deep xlsx": lambda: deep("xlsx"),
    "deep ods": lambda: deep("ods"),
    "far cell in small letters": lambda: with_row('r="1048576"', '<c r="xfd1048576"><v>1</v></c>'),
    "far cell without letters": lambda: with_row('r="1048576"', "<c/>" * 20 + "<c><v>1</v></c>"),
    "cell beyond all columns": lambda: with_row('r="9"', '<c r="ZZZZZZ9"><v>1</v></c>'),
    "row beyond all rows": lambda: with_row('r="4294967295"', '<c r="A4294967295"><v>1</v></c>'),
    "many sheets": lambda: ods_of(ods_content({f"s{i}": [(1,)] for i in range(20_000)})),
    "long names": lambda: ods_of(ods_content({"n" * 10**6: [("a", "b")]})),
    "a cell of a million signs": lambda: ods({"a": [("x" * 10**6, "b")]}),
    "many columns": lambda: ods({"a": [tuple(range(20_000))]}),
}


@pytest.mark.parametrize("name", BOMBS)
def test_workbooks_that_mean_harm(name: str) -> None:
    data = BOMBS[name]()
    with only_ours(20.0), little_memory():
        read_workbook(data)
