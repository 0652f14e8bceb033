"""A lab's own tables: kinds by their headers, cells with units and places."""

from __future__ import annotations

import pytest

from stillroom import errors
from stillroom.readers.registers.cells import Cell
from stillroom.readers.registers.tables import Table, TableKind, read_table, table_kind
from stillroom.readers.source import Source

FANS = TableKind("fan", ("fan",), ("maker", "size", "full speed", "pulses per revolution"))
SAMPLES = TableKind("sample", ("fan", "sample"), ("bought", "hours", "registered"))
PRICES = TableKind("price", ("fan", "price"), ("currency", "date"))
KINDS = (FANS, SAMPLES, PRICES)


def table(text: str, **said: str) -> Table:
    return read_table(Source("t.csv", text.encode()), KINDS, **said)


def cell(text: str, unit: str = "", decimal: str = ".") -> Cell:
    return Cell(text, "t.csv, line 2, column 1", "size", unit, decimal)


def test_a_table_is_known_by_its_headers() -> None:
    fans = table("Fan,maker,Size [mm],Full_speed [rpm],colour\nBracken,Fennock,120,1800,grey\n")
    assert fans.kind == "fan"
    assert fans.left_out == ("colour",)
    assert fans.lines == (2,)
    row = fans.rows[0]
    assert row["fan"].text == "Bracken"
    assert row["size"].number("m") == pytest.approx(0.12)
    assert row["full speed"].number("1/s") == pytest.approx(30)
    assert row["size"].place == "t.csv, line 2, column 3"
    assert "pulses per revolution" not in row
    assert table("fan,sample\nBracken,A\nSedge,m\n").kind == "sample"
    assert table("fan;price;date\nBracken;12,50;2026-03-02\n").rows[0]["price"].number() == 12.5


def test_a_unit_row_serves_a_table_too() -> None:
    fans = table("fan\tsize\n-\tmm\nBracken\t140\n")
    assert fans.rows[0]["size"].number("m") == pytest.approx(0.14)
    assert fans.lines == (3,)


def test_the_kind_is_told_without_reading() -> None:
    assert table_kind(Source("t.csv", b"fan,sample\nBracken,1\n"), KINDS) == "sample"
    assert table_kind(Source("t.csv", b"flow [m3/h],p_s [Pa]\n36,5\n"), KINDS) == ""
    assert table_kind(Source("t.csv", b"1,2\n36,5\n"), KINDS) == ""


@pytest.mark.parametrize(
    ("text", "kind", "parts"),
    [
        ("colour,shape\nred,round\n", errors.BadInput, ["colour, shape", "fan: fan; or sample: fan, sample"]),
        ("fan,price\nBracken,1\nSedge\n", errors.BadInput, ["line 3", "expected 2"]),
        ("fan,price\nBracken,1\nSedge,\n", errors.BadInput, ["line 3, column 2", "an empty cell"]),
        ("fan,price,Price\nBracken,1,2\n", errors.Contradiction, ["'price'", "twice"]),
        ("fan,sample,price\nBracken,1,2\n", errors.Contradiction, ["sample and price"]),
        ("fan,price\n", errors.UnreadableFile, ["no rows"]),
    ],
)
def test_a_wrong_table_names_the_place(text: str, kind: type[Exception], parts: list[str]) -> None:
    with pytest.raises(kind) as caught:
        table(text)
    for part in parts:
        assert part in str(caught.value), caught.value


def test_a_table_of_two_kinds_can_be_named_by_hand() -> None:
    assert table("fan,sample,price\nBracken,1,2\n", kind="price").kind == "price"


def test_numbers_of_cells() -> None:
    assert cell("120", "mm").number("m") == pytest.approx(0.12)
    assert cell("4.5 in").number("m") == pytest.approx(0.1143)
    assert cell("12,5", "mm", ",").number("m") == pytest.approx(0.0125)
    assert cell("60", "%").number("1") == pytest.approx(0.6)
    assert cell("20", "°C").number("K") == pytest.approx(293.15)
    assert cell("7").whole() == 7


@pytest.mark.parametrize(
    ("wrong", "si_unit", "kind"),
    [
        (cell("120"), "m", errors.UnknownUnit),
        (cell("60"), "1", errors.UnknownUnit),
        (cell("120", "furlong"), "m", errors.UnknownUnit),
        (cell("120", "Pa"), "m", errors.Contradiction),
        (cell("120 cm", "mm"), "m", errors.Contradiction),
        (cell("120", "mm"), "", errors.BadInput),
        (cell("", "mm"), "m", errors.BadInput),
        (cell("nan", "mm"), "m", errors.BadInput),
        (cell("1,5", "mm"), "m", errors.BadInput),
    ],
)
def test_a_cell_that_is_not_the_number_asked_for(wrong: Cell, si_unit: str, kind: type[Exception]) -> None:
    with pytest.raises(kind) as caught:
        wrong.number(si_unit)
    assert type(caught.value) is kind
    assert "t.csv, line 2, column 1" in str(caught.value)


def test_dates_are_iso_or_refused() -> None:
    assert cell("2026-03-02").date() == "2026-03-02"
    assert cell("2026-03-02 08:30").time() == "2026-03-02T08:30:00"
    assert cell("2026-03-02T08:30:15+01:00").time() == "2026-03-02T08:30:15+01:00"
    assert cell("2026-03-02").time() == "2026-03-02"
    for text in ("03/04/2026", "25.11.2026", "2026-02-30", "", "yesterday", "20260302"):
        with pytest.raises(errors.BadInput) as caught:
            cell(text).date()
        assert "2026-03-01" in str(caught.value)
    with pytest.raises(errors.BadInput):
        cell("2026-03-02 25:00").time()


def test_yes_no_whole_and_names() -> None:
    assert [cell(text).yes_no() for text in ("yes", "TRUE", "1", "No", "false", "0")] == [True] * 3 + [
        False
    ] * 3
    assert cell("N12+N25; N40").names() == ("N12", "N25", "N40")
    for wrong in ("perhaps", ""):
        with pytest.raises(errors.BadInput):
            cell(wrong).yes_no()
    with pytest.raises(errors.BadInput):
        cell("7.5").whole()
