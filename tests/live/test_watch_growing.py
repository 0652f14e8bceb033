"""A log read while it grows is the log read at once."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from growing_rig import HEAD, heat_lab, rows

from stillroom.lab.book import open_book
from stillroom.live.growing import GrowingLog


@pytest.mark.parametrize(
    ("encoding", "comma"), [("utf-8", False), ("utf-8-sig", True), ("cp1252", True), ("utf-16", False)]
)
@pytest.mark.parametrize("block", [1, 7, 1000])
def test_grown_is_whole(tmp_path: Path, encoding: str, comma: bool, block: int) -> None:
    book = open_book(heat_lab(tmp_path))
    lines = [HEAD, *rows([(40.0, 12.0, 2.0)], comma=comma)]
    wide = encoding.startswith("utf-16")
    end = b"\n\x00" if wide else b"\n"
    data = "".join(each + "\n" for each in lines).encode(encoding)
    parts = [each + end for each in data.split(end)[:-1]]
    if wide:
        parts = [
            text.encode("utf-16-le")
            for text in "".join(f"{each}\n" for each in lines).splitlines(keepends=True)
        ]
        parts[0] = b"\xff\xfe" + parts[0]
    log = GrowingLog("heat-1/a.csv", book, end)
    for begin in range(0, len(parts), block):
        log.take(b"".join(parts[begin : begin + block]))
    whole = GrowingLog("heat-1/b.csv", book, end)
    whole.take(b"".join(parts))
    assert log.why == whole.why == ""
    assert log.columns.keys() == whole.columns.keys()
    for name, values in whole.columns.items():
        assert log.columns[name] == pytest.approx(values)
    assert np.all(np.diff(log.columns["time"]) == 5.0)


def test_a_header_that_is_not_complete_is_waited_for(tmp_path: Path) -> None:
    log = GrowingLog("heat-1/a.csv", open_book(heat_lab(tmp_path)))
    lines = [HEAD, *rows([(40.0, 12.0, 1.0)])]
    for line in lines[:3]:
        log.take(line.encode() + b"\n")
        assert not log.is_understood
        assert log.why == ""
    for line in lines[3:]:
        log.take(line.encode() + b"\n")
    assert len(log.columns["time"]) == len(lines) - 1


def test_what_can_not_be_understood_is_said(tmp_path: Path) -> None:
    log = GrowingLog("heat-1/a.csv", open_book(heat_lab(tmp_path)))
    log.take("".join(f"word {each};other\n" for each in range(60)).encode())
    assert not log.is_understood
    assert "a.csv" in log.why


def test_a_damaged_line_keeps_no_other_from_being_read(tmp_path: Path) -> None:
    log = GrowingLog("heat-1/a.csv", open_book(heat_lab(tmp_path)))
    lines = [HEAD, *rows([(40.0, 12.0, 1.0)])]
    log.take("".join(f"{each}\n" for each in lines[:20]).encode())
    log.take(b"2026-03-13 09:01:34;x;x\n")
    log.take("".join(f"{each}\n" for each in lines[20:]).encode())
    assert len(log.columns["time"]) >= len(lines) - 1
    assert log.columns["time"][-1] == pytest.approx(5.0 * (len(lines) - 2))
