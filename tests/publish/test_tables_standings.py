"""The standings of a release as CSV, JSON and a workbook: what was ranked, to the digits that it deserves."""

from __future__ import annotations

import csv
import io
import json
import math
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from apostrophes import plain_text

from stillroom import wording
from stillroom.compare.candidates import Bound, Excluded, How, StandingVerdict
from stillroom.compare.standing import Ranking, Standing
from stillroom.lab.executor import silent
from stillroom.publish.contents import Contents
from stillroom.publish.data.standing_rows import FIELDS, headers
from stillroom.publish.standing_words import readers_word
from stillroom.publish.tables.workbook import ABOUT, sheet_names, workbook_bytes
from stillroom.publish.tables.writing import standings_csv, standings_json, write_standings

HOSTILE = ('=HYPERLINK("http://example.org")', "+1", "@x", "-2", "\tx", "a\rb", "'y")


def rows_of(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def sheets_of(data: bytes) -> dict[str, list[list[Any]]]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {
        each.title: [[cell.value for cell in row] for row in each.iter_rows()] for each in book.worksheets
    }


def renamed(contents: Contents, names: tuple[str, ...]) -> Contents:
    """The first measure alone, its fans under other names."""
    one = contents.published[0]
    standings = tuple(
        replace(each, fan=name) for each, name in zip(one.ranking.standings, names, strict=False)
    )
    ranking = replace(
        one.ranking, standings=standings, best=tuple(each.fan for each in standings), prices=None
    )
    return replace(contents, published=(replace(one, ranking=ranking),))


def test_every_measure_has_its_tables(gathered: Contents, tmp_path: Path) -> None:
    seen: list[tuple[int, int]] = []
    written = write_standings(
        gathered, tmp_path / "standings", lambda _, done, all_: seen.append((done, all_))
    )
    names = {f"{each.slug}.{ending}" for each in gathered.published for ending in ("csv", "json")}
    assert (
        {each.name for each in written}
        == names | {"standings.xlsx"}
        == {each.name for each in (tmp_path / "standings").iterdir()}
    )
    assert seen[-1] == (len(gathered.published), len(gathered.published))


def test_the_table_shows_the_ranking_in_its_order_and_words(gathered: Contents) -> None:
    for one in gathered.published:
        rows, found = rows_of(standings_csv(gathered, one)), one.ranking
        assert [each["fan"] for each in rows[: len(found.standings)]] == [
            each.fan for each in found.standings
        ]
        gone = [each.fan for each in found.excluded if each.measured]
        assert [each["fan"] for each in rows[len(found.standings) :]] == gone
        for row, each in zip(rows, found.standings, strict=False):
            assert row["verdict"] == each.verdict.value
            assert (row["standing"] == wording.TIED_MARK) == (each.fan in found.best and len(found.best) > 1)
            value = next(text for name, text in row.items() if name.startswith("value ["))
            if not math.isfinite(each.high - each.low):
                continue
            place = wording.places_for((each.high - each.low) / 2)
            assert value == wording.number(each.value, place).replace(",", "").replace("−", "-")


def test_the_json_is_the_ranking_with_its_release(gathered: Contents) -> None:
    for one in gathered.published:
        told = json.loads(standings_json(gathered, one))
        assert told["release"] == "spring 2026"
        assert told["slug"] == one.slug
        assert told["registered"] == (one.registered.words if one.registered else None)
        assert {name: told[name] for name in one.ranking.as_dict()} == json.loads(
            json.dumps(one.ranking.as_dict())
        )


def test_the_workbook_holds_numbers_with_the_digits_they_deserve(gathered: Contents) -> None:
    book = openpyxl.load_workbook(io.BytesIO(workbook_bytes(gathered)))
    assert book.sheetnames[-1] == ABOUT
    assert len(book.sheetnames) == len(gathered.published) + 1
    value = [each.name for each in FIELDS].index("value")
    for sheet, one in zip(book.worksheets, gathered.published, strict=False):
        assert sheet.freeze_panes == "B2"
        assert [each.value for each in sheet[1]] == list(headers(one.ranking))
        rows = rows_of(standings_csv(gathered, one))
        for row, told in zip(sheet.iter_rows(min_row=2), rows, strict=True):
            printed = list(told.values())[value]
            if not printed:
                assert row[value].value is None
                continue
            places = max(0, -Decimal(printed).as_tuple().exponent)  # type: ignore[operator]
            assert isinstance(row[value].value, int | float)
            assert row[value].number_format == ("0." + "0" * places if places else "0")
            assert row[value].value == float(printed)


def test_the_about_sheet_tells_release_units_and_columns(gathered: Contents) -> None:
    cells = [cell for row in sheets_of(workbook_bytes(gathered))[ABOUT] for cell in row if cell]
    for each in ("spring 2026", "2026-03-04", "Which fan for a radiator?", gathered.settings.name):
        assert each in cells
    for one in gathered.published:
        assert one.title in cells
        assert one.ranking.definition in cells
    assert {each.description for each in FIELDS} <= set(cells)


def test_no_name_becomes_a_formula_in_a_workbook(gathered: Contents) -> None:
    contents = renamed(gathered, HOSTILE)
    data = workbook_bytes(contents)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        for name in packed.namelist():
            text = packed.read(name).decode("utf-8", "replace")
            assert "<f>" not in text
            assert "<f " not in text
            assert "<hyperlink " not in text
    book = openpyxl.load_workbook(io.BytesIO(data))
    fans = [row[0] for row in book.worksheets[0].iter_rows(min_row=2)]
    assert all(each.data_type == "s" for each in fans)
    said = [str(each.value).replace("_x000D_", "\r") for each in fans]
    assert said == [each.fan for each in contents.published[0].ranking.standings]


def test_no_name_becomes_a_formula_in_csv_and_every_name_comes_back(gathered: Contents) -> None:
    contents = renamed(gathered, HOSTILE)
    rows = rows_of(standings_csv(contents, contents.published[0]))
    names = [each["fan"] for each in rows[: len(contents.published[0].ranking.standings)]]
    assert not any(each.lstrip()[:1] in set("=+-@") for each in names)
    assert [plain_text(each) for each in names] == [
        each.fan for each in contents.published[0].ranking.standings
    ]


def test_texts_that_a_workbook_cannot_hold_are_still_whole_files(gathered: Contents) -> None:
    names = ("x" * 40_000, "nul\x00bell\x07", "￾\uffff", "<b>&amp;</b>", "שלום", "🌀")
    cells = [row[0] for row in sheets_of(workbook_bytes(renamed(gathered, names)))[ABOUT] if row[0]]
    assert cells
    fans = [row[0] for row in next(iter(sheets_of(workbook_bytes(renamed(gathered, names))).values()))[1:]]
    assert fans[0] == "x" * 32_766 + "…"
    assert fans[1] == "nul\ufffdbell\ufffd"
    assert fans[3:] == list(names[3 : len(fans)])


def test_sheet_names_are_such_as_workbooks_take() -> None:
    long = "Airflow through a radiator of some length at 35 dBA"
    names = sheet_names([long, long, "a/b [c]: *?\\", "History", "about", "'quoted'", "", "ABOUT"])
    assert len({each.casefold() for each in names}) == len(names)
    assert all(0 < len(each) <= 31 and not set(each) & set("[]:*?/\\") for each in names)
    assert not any(each.startswith("'") or each.endswith("'") for each in names)
    assert not {"history", "about"} & {each.casefold() for each in names}


def test_the_same_contents_give_the_same_bytes(gathered: Contents) -> None:
    assert workbook_bytes(gathered) == workbook_bytes(gathered)
    with zipfile.ZipFile(io.BytesIO(workbook_bytes(gathered))) as packed:
        core = packed.read("docProps/core.xml").decode()
    assert core.count("2026-03-04T00:00:00Z") == 2  # made and changed: the day of the release


def _standing(fan: str, **told: Any) -> Standing:
    usual: dict[str, Any] = {
        "value": 10.0, "low": 9.0, "high": 11.0, "bound": Bound.NONE, "rank": (1, 2), "how": How.MEASURED,
        "verdict": StandingVerdict.LEADER, "samples": 1, "mountings": 2, "marks": (), "key": "k",
    }  # fmt: skip
    return Standing(fan=fan, **usual | told)


def _of(
    contents: Contents, *standings: Standing, best: tuple[str, ...], gone: tuple[Excluded, ...] = ()
) -> Ranking:
    ranking = contents.published[0].ranking
    return replace(ranking, standings=standings, best=best, pairs=(), excluded=gone, prices=None)


def test_bounds_ranges_legacy_numbers_and_fans_without_a_place(gathered: Contents) -> None:
    found = _of(
        gathered,
        _standing("A", value=21.46, low=20.5, high=float("inf"), bound=Bound.AT_LEAST),
        _standing("B", value=20.04, low=19.0, high=25.9, bound=Bound.RANGE, ends=(20.04, 24.04),
                  verdict=StandingVerdict.NOT_RESOLVED),
        _standing("C", verdict=StandingVerdict.BEHIND, rank=(3, 3)),
        _standing("D", value=40.0, low=float("-inf"), high=float("inf"), rank=None, how=How.LEGACY,
                  verdict=StandingVerdict.NOT_RESOLVED, samples=0, mountings=0),
        best=("A", "B"),
        gone=(Excluded("E", "can’t run this quiet: 31 dBA", measured=True), Excluded("F", "140 mm, not 120 mm")),
    )  # fmt: skip
    one = replace(gathered.published[0], ranking=found)
    rows = {each["fan"]: list(each.values()) for each in rows_of(standings_csv(gathered, one))}
    names = [each.name for each in FIELDS]

    def told(fan: str, *columns: str) -> list[str]:
        return [rows[fan][names.index(each)] for each in columns]

    assert told("A", "value", "low", "high", "bound") == ["21.5", "20.5", "", "at least"]
    assert told("B", "value", "lower_end", "upper_end", "standing") == ["20", "20", "24", wording.TIED_MARK]
    assert told("C", "standing", "rank_from", "rank_to") == ["behind", "3", "3"]
    assert told("D", "standing", "value", "low", "rank_from") == ["not ranked", "40.0", "", ""]
    assert told("E", "standing", "value", "why") == ["not ranked", "", "can’t run this quiet: 31 dBA"]
    assert "F" not in rows
    assert readers_word(found.standings[0], replace(found, best=("A",))) == wording.BEST_MARK
    workbook_bytes(replace(gathered, published=(one,)))


@pytest.mark.parametrize("name", ["sheet", "cell"])
def test_an_empty_list_of_fans_is_a_table_all_the_same(gathered: Contents, name: str) -> None:
    one = replace(gathered.published[0], ranking=_of(gathered, best=()))
    contents = replace(gathered, published=(one,))
    assert rows_of(standings_csv(contents, one)) == []
    assert len(sheets_of(workbook_bytes(contents))) == 2
    assert json.loads(standings_json(contents, one))["standings"] == []
    silent(name, 0, 0)
