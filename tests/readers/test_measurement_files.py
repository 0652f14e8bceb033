"""Ordinary files with their expected readings, damaged ones with their errors; drop one in to add it.

Beside `NAME` lies `NAME.json`. The expected readings were written down by hand in SI (36 m³/h = 0.01 m³/s,
1,500 rpm = 25 1/s), not by the reader. A file with one table may give what is expected of it directly, one
with several gives a list under "blocks": its kind, the lines of its readings, its columns (all values, or
their first and last), texts, nozzles, notes, setting, sweeps ([first, last, setting, direction]), the lines
that are left out ("out") and the columns that are ("left_out").
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stillroom import errors
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.understanding import Understanding, missing_units, recognise, understand
from stillroom.readers.reading.recording import READER_VERSION, fits, read
from stillroom.readers.reading.sweeps import sweeps
from stillroom.readers.source import Source

HERE = Path(__file__).parent


def files(folder: str) -> list[Path]:
    found = sorted(path for path in (HERE / folder).iterdir() if path.suffix != ".json")
    assert found
    return found


def said(path: Path) -> dict[str, Any]:
    return dict(json.loads((path.parent / (path.name + ".json")).read_text(encoding="utf-8")))


def check(source: Source, seen: Understanding, expected: dict[str, Any]) -> None:
    """What one table gives, against what was written down."""
    recording = read(source, seen.layout)
    assert seen.kind.value == recording.kind.value == expected["kind"]
    assert list(recording.lines) == expected["lines"]
    assert set(recording.columns) == set(expected["columns"])
    for quantity, told in expected["columns"].items():
        values = recording.columns[quantity]
        ends = isinstance(told, dict)
        values, wanted = (values[[0, -1]], [told["first"], told["last"]]) if ends else (values, told)
        np.testing.assert_allclose(values, wanted, rtol=expected.get("rtol", 1e-12), atol=1e-15)
    assert [list(names) for names in recording.nozzles] == expected.get("nozzles", [])
    assert {name: list(cells) for name, cells in recording.texts.items()} == expected.get("texts", {})
    assert [[each.line, each.why] for each in recording.left_out] == expected.get("out", [])
    assert {str(line): words for line, words in recording.remarks.items()} == expected.get("remarks", {})
    assert recording.setting == pytest.approx(expected.get("setting", {}))
    assert seen.layout.block == expected.get("number", 1)
    for key, field in (("decimal", "decimal"), ("thousands", "thousands"), ("dates", "date_order")):
        assert getattr(seen.layout, field) == expected.get(key, getattr(seen.layout, field))
    for key, value in expected.get("notes", {}).items():
        assert seen.notes[key] == recording.notes[key] == value
    for header in expected.get("left_out", []):
        assert any(repr(header) in words and "left out" in words for words in seen.words)
    parts = sweeps(recording)
    assert [each.first for each in parts] == [0, *(each.last for each in parts[:-1])]
    assert parts[-1].last == len(recording)
    if "sweeps" in expected:
        found = [(each.first, each.last, each.direction) for each in parts]
        assert found == [(first, last, way) for first, last, _, way in expected["sweeps"]]
        for part, (_, _, setting, _) in zip(parts, expected["sweeps"], strict=True):
            assert part.setting == pytest.approx(setting)
    assert recording.version == READER_VERSION


@pytest.mark.parametrize("path", files("ordinary"), ids=lambda path: path.name)
def test_ordinary_file_gives_its_readings(path: Path) -> None:
    expected = said(path)
    source = Source.of_path(path, path.name)
    seen = understand(source, expected.get("as"))
    wanted = expected.get("blocks", [expected])
    assert len(seen.blocks) == len(wanted)
    for block, each in zip(seen.blocks, wanted, strict=True):
        check(source, block, each)
    for part in expected.get("passed_over", []):
        assert any(part in words for words in seen.passed_over)
    assert len(seen.passed_over) == len(expected.get("passed_over", []))


@pytest.mark.parametrize("path", files("ordinary"), ids=lambda path: path.name)
def test_a_saved_layout_reads_the_same(path: Path) -> None:
    source = Source.of_path(path, path.name)
    for block in understand(source, said(path).get("as")).blocks:
        again = Layout.from_toml(block.layout.to_toml())
        assert again == block.layout
        assert fits(source, again)
        first, second = read(source, block.layout), read(source, again)
        for quantity, values in first.columns.items():
            np.testing.assert_array_equal(second.columns[quantity], values)


@pytest.mark.parametrize("path", files("damaged"), ids=lambda path: path.name)
def test_damaged_file_gives_its_error(path: Path) -> None:
    expected = said(path)
    source = Source.of_path(path, path.name)
    with pytest.raises(errors.StillroomError) as caught:
        _ = [read(source, each.layout) for each in understand(source, expected.get("as")).blocks]
    assert type(caught.value).__name__ == expected["error"], caught.value
    for part in expected["parts"]:
        assert part in str(caught.value), caught.value
    assert path.name in str(caught.value)


CLEAN = "flow [m³/h],p_s [Pa]\n36,5\n72,4\n"


def source_of(text: str, name: str = "a.csv") -> Source:
    return Source(name, text.encode())


def test_raw_cell_is_found_again_with_its_place() -> None:
    source = source_of("# a: b\n\nflow [m³/h];p_s [Pa]\n36;5,25\n\n72; 4,5 \n")
    recording = read(source, understand(source).blocks[0].layout)
    cell = recording.raw(1, "static_pressure")
    assert (cell.text, cell.line, cell.column) == (" 4,5 ", 6, 2)
    assert cell.place == "a.csv, line 6, column 2"
    assert (cell.header, cell.unit) == ("p_s [Pa]", "Pa")
    with pytest.raises(errors.BadInput):
        recording.raw(2, "static_pressure")
    with pytest.raises(errors.BadInput):
        recording.raw(0, "speed")


def test_kind_and_missing_units_are_told_without_reading() -> None:
    assert recognise(source_of(CLEAN)).value == "flow and pressure"
    missing = missing_units(source_of("Airflow,p,n [rpm]\n1,2,3\n"))
    assert [each.header for each in missing] == ["Airflow", "p"]
    assert missing[0].option == "unit:Airflow=m³/h"
    assert missing[1].quantities == ("static_pressure", "power")
    assert missing_units(source_of(CLEAN)) == ()


@pytest.mark.parametrize(
    "other",
    [
        CLEAN.replace("m³/h", "CFM"),
        CLEAN.replace("flow", "volume"),
        CLEAN.replace("p_s [Pa]", "p_s [Pa],n [rpm]"),
        CLEAN.replace(",", ";"),
    ],
)
def test_reading_by_a_layout_is_strict(other: str) -> None:
    layout = understand(source_of(CLEAN)).blocks[0].layout
    assert fits(source_of("# more: words\n" + CLEAN), layout)
    assert not fits(source_of(other), layout)
    with pytest.raises(errors.UnreadableFile) as caught:
        read(source_of(other), layout)
    assert "layout" in str(caught.value)


def test_another_unit_in_the_unit_row_is_not_read_by_the_old_layout() -> None:
    with_row = "flow,p_s\nm³/h,Pa\n36,5\n"
    layout = understand(source_of(with_row)).blocks[0].layout
    with pytest.raises(errors.Contradiction) as caught:
        read(source_of(with_row.replace("m³/h", "CFM")), layout)
    assert "'CFM'" in str(caught.value)
    assert "line 2, column 1" in str(caught.value)


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"version": 99}, "99"),
        ({"decimal": "x"}, "'x'"),
        ({"colour": 1}, "'colour'"),
        ({"columns": []}, "[]"),
        ({"header_line": 0}, "0"),
        ({"unit_row": 1}, "1"),
        ({"columns": [{"header": "a", "quantity": "fluxion"}]}, "'fluxion'"),
        ({"columns": [{"header": "a", "quantity": "flow", "unit": "Pa"}]}, "Pa"),
        ({"columns": [{"header": "a", "quantity": "flow"}]}, "none"),
        ({"columns": [{"header": "a", "quantity": "flow", "unit": "m³/h"}] * 2}, "twice"),
    ],
)
def test_a_layout_that_is_wrong_is_refused(change: dict[str, object], part: str) -> None:
    plain = understand(source_of(CLEAN)).blocks[0].layout.to_dict() | change
    with pytest.raises(errors.BadInput) as caught:
        Layout.from_dict(plain)
    assert part in str(caught.value)


def test_the_hash_and_the_encoding_of_a_source() -> None:
    # FIPS 180-2, appendix B.1: SHA-256 of "abc".
    assert Source("a", b"abc").sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert Source("a", "é".encode()).encoding == "utf-8"
    assert Source("a", "é".encode("cp1252")).encoding == "windows-1252"
    assert Source("a", b"\xff\xfea\0").encoding == "utf-16"
    assert Source("a", b"\xef\xbb\xbfa").text() == "a"


def test_a_file_that_is_missing_or_a_folder(tmp_path: Path) -> None:
    for path, found in ((tmp_path / "none.csv", "nothing there"), (tmp_path, "a folder")):
        with pytest.raises(errors.UnreadableFile) as caught:
            understand(Source.of_path(path))
        assert found in str(caught.value)
