"""Titles and notes in texts whose columns are parted by blanks: words are no cells, whatever their number."""

from __future__ import annotations

import pytest

from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import read
from stillroom.readers.source import Source

WIDE = "Airflow [m³/h]   Static pressure [Pa]   Speed [rpm]\n"
ROWS = "0     40.0   {0}\n20    35.0   {0}\n40    28.0   {0}\n60    15.0   {0}\n"


def blocks(text: str) -> list[tuple[dict[str, float], dict[str, str], int]]:
    source = Source("x.txt", text.encode())
    found = understand(source).blocks
    read_now = [read(source, each.layout) for each in found]
    return [(one.setting, each.notes, len(one)) for each, one in zip(found, read_now, strict=True)]


@pytest.mark.parametrize("title", ["[Sweep 40 %]", "[ Sweep at 40 % ]", "Sweep: 40 %", "Duty = 40 %"])
def test_a_title_of_as_many_words_as_columns_begins_a_table(title: str) -> None:
    text = f"[Sweep 70 %]\n{WIDE}{ROWS.format(1500)}{title}\n{ROWS.format(900)}"
    (first, _, some), (second, _, more) = blocks(text)
    assert (first, some) == ({"duty": pytest.approx(0.7)}, 4)
    assert (second, more) == ({"duty": pytest.approx(0.4)}, 4)


def test_words_parted_by_one_blank_are_no_key_and_value() -> None:
    text = f"AeroBench 3.2 Export\nFan: Tornado\n[Sweep 40%]\n{WIDE}{ROWS.format(900)}"
    ((setting, notes, _),) = blocks(text)
    assert notes == {"Fan": "Tornado", "title": "[Sweep 40%]"}
    assert setting == {"duty": pytest.approx(0.4)}


def test_a_title_in_brackets_that_a_comma_parts_is_one_title() -> None:
    rows = ROWS.replace("     ", ",").replace("    ", ",").replace("   ", ",")
    head = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n"
    text = f"{head}{rows.format(1500)}[Sweep 2, rising, duty 40 %]\n{rows.format(900)}"
    (_, _, some), (setting, notes, more) = blocks(text)
    assert (some, more) == (4, 4)
    assert setting == {"duty": pytest.approx(0.4)}
    assert notes["title"].startswith("[Sweep 2")
