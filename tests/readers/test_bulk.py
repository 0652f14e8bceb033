"""Long files in blocks: bit for bit what the careful way gives, whatever stands between the readings."""

from __future__ import annotations

import random
import tracemalloc
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom import errors
from stillroom.readers.layout import Column, Layout
from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading import bulk
from stillroom.readers.reading.gathering import Kinds, Texts
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.reading.streaming import stream, survey
from stillroom.readers.source import Source

HEADER = "time,p_s [Pa],nozzles,flow [m3/h],remark"
LAYOUT = Layout(
    columns=(
        Column("time", "time"),
        Column("p_s [Pa]", "static_pressure", "Pa"),
        Column("nozzles", "nozzles"),
        Column("flow [m3/h]", "flow", "m³/h"),
        Column("remark"),
    )
)
NUMBERS_FIRST = Layout(
    columns=(Column("p_s [Pa]", "static_pressure", "Pa"), Column("flow [m3/h]", "flow", "m³/h"))
)


def readings(count: int, seed: int = 1) -> list[str]:
    chance = random.Random(seed)
    return [
        f"{i / 10:.1f},{chance.uniform(-9, 99):.{chance.randrange(1, 17)}f},N25+N40,{chance.uniform(0, 120)!r},"
        for i in range(count)
    ]


def outcome(source: Source, layout: Layout, reading: object = read) -> tuple[object, ...]:
    """What reading gives, or how it says no."""
    assert callable(reading)
    try:
        found: Recording = reading(source, layout)
    except errors.StillroomError as error:
        return type(error), str(error)
    columns = tuple((name, values.tobytes()) for name, values in found.columns.items())
    texts = tuple((name, tuple(each)) for name, each in found.texts.items())
    return (
        columns,
        texts,
        tuple(found.nozzles),
        tuple(found.lines),
        found.left_out,
        found.remarks,
        found.notes,
    )


def in_blocks(
    monkeypatch: pytest.MonkeyPatch, source: Source, layout: Layout, block: int = 256, piece: int = 32
) -> tuple[object, ...]:
    with monkeypatch.context() as changed:
        changed.setattr(bulk, "LONG", 0)
        changed.setattr(bulk, "BLOCK", block)
        changed.setattr(bulk, "PIECE", piece)
        return outcome(source, layout)


def agree(
    monkeypatch: pytest.MonkeyPatch, data: bytes, layout: Layout, block: int = 256
) -> tuple[object, ...]:
    source = Source("long.csv", data)
    careful = outcome(source, layout)
    found = in_blocks(monkeypatch, source, layout, block)
    # Where several things are wrong, either may be named first.
    assert found == careful or (_is_error(found) and _is_error(careful))
    return careful


def _is_error(found: tuple[object, ...]) -> bool:
    return isinstance(found[0], type) and issubclass(found[0], errors.StillroomError)


ODD = (
    "1,2.5,N1,3,", "2,-0.5,none,4.25,x", "3,1e-3,N1;N2,1E2,", "10:00:01,1,N1,2,", "5, 6,N1,7 ,", " 5,6,N1,7,",
    "6,7,N1,8", "7,8,N1,9,,", "8,nan,N1,9,", "9,inf,N1,9,", "1_0,1_0,N1,1,", "1,0x1,N1,2,", "1,1e999,N1,2,",
    "1,,N1,2,", "1,+5,N1,.5,", "1,5.,N1,-.5e-2,", ",1,N1,2,", "1,2,,3,", '"1","2.5",N1,"3",',
    '1,2,"N1\nN2",3,', '1,2,N"1,3,', "# a comment", "#,,,,", "", "   ", ",,,,", "Mean,2,,3,", HEADER, "Sweep 2",
    "Duty: 40 %", "Sample: 2", "1,2,N1,3,µ", "1,2,N1,−3,", "OL,1,N1,2,", "1,OL,N1,2,", "1,-,N1,2,", "1,#,N1,2,",
    "1;2;N1;3;", "1,2,N1+N1,3,", "1,99999,N1,2,", "0", "1,2\x0b,N1,3,", "\x1c1,2,N1,3,", "1,2,N1 ,3,",
    "1,2,\tN1,3,", "1\r2,3,N1,4,", "----------", "1,000,N1,1.234.5,", "Infinity,1,N1,2,", "1,NaN,N1,2,",
)  # fmt: skip
LINES = st.sampled_from(ODD)


@pytest.mark.parametrize("line", ODD)
def test_one_odd_line_gives_the_same_readings_or_the_same_error(
    line: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = "\n".join([HEADER, *readings(30), line, *readings(30, 2), ""]).encode()
    source = Source("long.csv", data)
    for block in (64, 256, 100_000):
        assert in_blocks(monkeypatch, source, LAYOUT, block) == outcome(source, LAYOUT)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.lists(LINES | st.sampled_from(readings(3)), max_size=8),
    st.integers(0, 30),
    st.integers(0, 30),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.booleans(),
    st.sampled_from([64, 256, 1024]),
)
def test_odd_lines_among_readings(
    lines: Sequence[str], before: int, after: int, end: str, ended: bool, block: int
) -> None:
    text = end.join([HEADER, *readings(before), *lines, *readings(after, 2)]) + (end if ended else "")
    with pytest.MonkeyPatch.context() as monkeypatch:
        agree(monkeypatch, text.encode(), LAYOUT, block)


numbers = st.floats(allow_nan=False, allow_infinity=False, width=64).map(repr) | st.from_regex(
    r"[+-]?([0-9]{1,25}\.?[0-9]{0,25}|\.[0-9]{1,25})([eE][+-]?[0-9]{1,3})?", fullmatch=True
)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(numbers, numbers), min_size=4, max_size=40),
    st.sampled_from([(",", "."), (";", ","), ("\t", ".")]),
)
def test_numbers_to_the_last_bit(pairs: list[tuple[str, str]], marks: tuple[str, str]) -> None:
    delimiter, decimal = marks
    rows = [delimiter.join(each.replace(".", decimal) for each in pair) for pair in pairs]
    text = "\n".join([delimiter.join(c.header for c in NUMBERS_FIRST.columns), *rows, ""])
    layout = Layout(columns=NUMBERS_FIRST.columns, delimiter=delimiter, decimal=decimal)
    with pytest.MonkeyPatch.context() as monkeypatch:
        agree(monkeypatch, text.encode(), layout, 64)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.binary(max_size=40), st.integers(0, 2000), st.integers(0, 30), st.sampled_from([64, 300]))
def test_readings_changed_anywhere(piece: bytes, at: int, removed: int, block: int) -> None:
    data = "\n".join([HEADER, *readings(40), ""]).encode()
    with pytest.MonkeyPatch.context() as monkeypatch:
        agree(monkeypatch, data[:at] + piece + data[at + removed :], LAYOUT, block)


@pytest.mark.parametrize(
    "path", sorted((Path(__file__).parent / "ordinary").glob("*.[ct]*v")), ids=lambda p: p.name
)
def test_ordinary_files_in_blocks(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = Source.of_path(path)
    try:
        blocks = understand(source).blocks
    except errors.StillroomError:
        return  # it needs a word by hand
    for each in blocks:
        assert in_blocks(monkeypatch, source, each.layout, 64, 16) == outcome(source, each.layout)


def test_most_of_a_long_file_is_parsed_in_runs() -> None:
    """Were nothing plain, everything would still agree."""
    lines = readings(20_000)
    lines[9_000] = "# somebody opened the door"
    source = Source("long.csv", "\n".join([HEADER, *lines, ""]).encode())
    rows = list(bulk._Reading(_grid(source), LAYOUT).rows())
    single = [row for row in rows if not isinstance(row, bulk.RunRow)]
    assert sum(len(row.run) for row in rows if isinstance(row, bulk.RunRow)) + len(single) == 20_001
    assert len(single) * 60 < 3 * bulk.PIECE


def _grid(source: Source) -> bulk.Grid:
    return bulk.Grid(source, "", ",", "utf-8")


def test_an_error_far_down_names_its_line(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = readings(5000)
    lines[4000] = lines[4000].replace("N25", "N25,7")
    data = "\n".join([HEADER, *lines, ""]).encode()
    kind, words = agree(monkeypatch, data, LAYOUT, 4096)
    assert kind is errors.BadInput
    assert "line 4002" in str(words)


@pytest.fixture(scope="module")
def long_file(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    path = tmp_path_factory.mktemp("long") / "long.csv"
    with path.open("w") as stream:
        stream.write(HEADER + "\n")
        for i in range(4):
            stream.write("\n".join(readings(15_000, i)) + "\n# part\n\n")
        stream.write("Mean,12,,50,\n")
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(bulk, "LONG", 2**20)
        changed.setattr(bulk, "BLOCK", 2**19)
        yield path


def test_a_stream_gives_what_reading_gives(long_file: Path) -> None:
    source = Source.of_path(long_file)
    assert source.size > bulk.LONG
    whole = read(source, LAYOUT)
    parts = list(stream(source, LAYOUT))
    assert len(parts) > 2
    assert len(whole) == 60_000 == sum(len(part) for part in parts)
    for name, values in whole.columns.items():
        assert np.array_equal(np.concatenate([part.columns[name] for part in parts]), values)
    assert [line for part in parts for line in part.lines] == list(whole.lines)
    assert [text for part in parts for text in part.texts["time"]] == list(whole.texts["time"])
    assert [each for part in parts for each in part.nozzles] == list(whole.nozzles)
    assert tuple(each for part in parts for each in part.left_out) == whole.left_out
    assert whole.left_out[-1].why == "footer 'Mean'"
    assert whole.raw(50_000, "static_pressure").line == whole.lines[50_000]


def test_a_survey_counts_and_finds_the_extremes(long_file: Path) -> None:
    source = Source.of_path(long_file)
    whole = read(source, LAYOUT)
    found = survey(source, LAYOUT)
    assert (found.readings, found.first, found.last) == (60_000, 2, whole.lines[-1])
    assert found.left_out == len(whole.left_out)
    assert found.nozzles == {("N25", "N40")}
    for name, values in whole.columns.items():
        assert (found.lowest[name], found.highest[name]) == (values.min(), values.max())


def test_a_stream_stops_at_what_cannot_be(long_file: Path) -> None:
    text = long_file.read_text().replace("\n# part\n", "\n3,99999,N1,5,\n", 1)
    with pytest.raises(errors.BadInput, match=r"99999 Pa; expected -50000 to 50000 Pa"):
        survey(Source("long.csv", text.encode()), LAYOUT)


def test_memory_does_not_grow_with_the_file(long_file: Path, tmp_path: Path) -> None:
    double = tmp_path / "double.csv"
    text = long_file.read_text().split("Mean")[0]
    double.write_text(text + text.partition("\n")[2])
    survey(Source.of_path(long_file), LAYOUT)  # the parser's own start
    peaks = []
    for path in (long_file, double):
        source = Source.of_path(path)
        tracemalloc.start()
        survey(source, LAYOUT)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.2 * peaks[0]
    assert peaks[1] < 20 * bulk.BLOCK


def test_texts_and_kinds_are_sequences() -> None:
    texts = Texts()
    texts.add(["a", "b"])
    texts.add([])
    texts.add(["c"])
    assert (len(texts), list(texts), texts[0], texts[-1], texts[1:]) == (
        3,
        ["a", "b", "c"],
        "a",
        "c",
        ("b", "c"),
    )
    with pytest.raises(IndexError):
        _ = texts[3]
    kinds = Kinds()
    kinds.add([("N1",), (), ("N1",)])
    kinds.add_coded([()], np.zeros(2, np.uint16))
    assert list(kinds) == [("N1",), (), ("N1",), (), ()]
    assert (kinds[-1], kinds[:2], kinds.kinds) == ((), (("N1",), ()), [("N1",), ()])
    with pytest.raises(errors.BadInput, match="combinations"):
        kinds.add((str(i),) for i in range(2**16))
