"""Cells of published tables: no text becomes a formula, every text comes back, no number has a digit too many."""

from __future__ import annotations

import csv
import io
import math
import re
from decimal import Decimal

import pytest
from apostrophes import plain_text
from hypothesis import given
from hypothesis import strategies as st

from stillroom import wording
from stillroom.charts.cells import safe_text
from stillroom.publish.data.cells import csv_bytes, decimal_of, figures, places_of

FORMULA = re.compile(r"\s*[=+\-@＝＋－＠]")
PARTS = re.compile(r"[;\t\r\n]")
"""Where some spreadsheets part a cell into several."""

HOSTILE = (
    '=HYPERLINK("http://example.org","free")',
    "+1",
    "-2+3",
    "@x",
    "\tcmd",
    "\r=1",
    "\n=1",
    " =1",
    "a;=1",
    "a\n-1",
    "it's",
    "'=1",
    "''",
    "a;'b",
    "＝1",
    'x","=1',
)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_text_starts_no_formula_and_comes_back(text: str) -> None:
    cell = safe_text(text)
    assert not any(FORMULA.match(part) for part in PARTS.split(cell)), cell
    assert cell[:1] not in {"\t", "\r", "\n"}
    assert plain_text(cell) == text


@given(st.text(alphabet=" \t\r\n;'=+-@a,\"|＝", max_size=12))
def test_any_text_comes_back(text: str) -> None:
    cell = safe_text(text)
    assert plain_text(cell) == text
    assert not any(FORMULA.match(part) for part in PARTS.split(cell))


@pytest.mark.parametrize("text", ["Sedge", "25 mm, 4-wire", "“quiet” = quiet", "Größe 120", "a=b"])
def test_a_usual_text_is_left_as_it_is(text: str) -> None:
    assert safe_text(text) == text


def test_a_csv_file_reads_back_as_it_was() -> None:
    rows = [
        ("=1+1", 1.5, 3, True, None),
        ('say "so", Größe', -0.25, -7, False, "x\r\ny"),
        ("", 1e-7, 0, True, "z"),
    ]
    header, *told = csv.reader(
        io.StringIO(csv_bytes(("name", "a", "b", "c", "d"), rows).decode("utf-8"), newline="")
    )
    assert header == ["name", "a", "b", "c", "d"]
    assert [plain_text(each[0]) for each in told] == ["=1+1", 'say "so", Größe', ""]
    assert [float(each[1]) for each in told] == [1.5, -0.25, 1e-7]  # numbers carry no apostrophe
    assert [each[2] for each in told] == ["3", "-7", "0"]
    assert [each[3] for each in told] == ["true", "false", "true"]
    assert [each[4] for each in told] == ["", "x\r\ny", "z"]


@given(st.floats(-1e9, 1e9), st.integers(-4, 9))
def test_a_number_in_a_file_is_the_number_in_print(value: float, places: int) -> None:
    """Source: `wording.number`, which the page, charts and documents print by."""
    told = decimal_of(value, places)
    assert told is not None
    said = wording.number(value, places).replace(",", "").replace("−", "-")
    assert f"{told:f}" == said
    assert abs(told - Decimal(value)) <= Decimal(10) ** -places / 2 + Decimal("1e-6")


def test_digits_follow_the_interval() -> None:
    """JCGM 100:2008, 7.2.6: at most two digits of the uncertainty; by hand for these."""
    assert places_of(71.26, 60.1, 74.9) == 0  # half of 14.8 is 7.4
    assert places_of(66.61, 63.6, 68.3) == 1  # half of 4.7 is 2.35
    assert places_of(1234.0, 1000.0, 1500.0) == -1  # half of 500 is 250
    assert places_of(34.2, 30.0, math.inf) == 0  # only one end is known, 4.2 away
    assert places_of(34.2, -math.inf, 34.45) == 2
    assert places_of(0.012345, None, None) == 4  # three significant digits
    assert places_of(20.0, 20.0, 20.0) == 1
    assert places_of(0.0, None, None) == 0


def test_what_is_no_number_stands_empty() -> None:
    assert decimal_of(math.inf, 1) is None
    assert figures(math.nan) is None
    assert figures(None) is None
    assert figures(0.123456789) == 0.123457
    assert figures(-1234.5678, 3) == -1230.0
