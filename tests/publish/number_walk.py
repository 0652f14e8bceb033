"""A walk over the files of a release: every number that they print, held against rankings that were worked out anew.

Numbers are expected as this file prints them, by JCGM 100:2008, 7.2.6, from the fresh values; nothing here rounds by
the house's own code. Each function returns what is wrong, in words; nothing where all is right.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import openpyxl
from pypdf import PdfReader

from stillroom.charts.table import table_of
from stillroom.compare.candidates import Bound
from stillroom.compare.standing import Standing
from stillroom.publish.account import account_of
from stillroom.publish.contents import Contents, Published
from stillroom.publish.document.as_text import as_text
from stillroom.publish.fan_card import card_files
from stillroom.publish.methodology.writing import methodology_of
from stillroom.publish.pack.belonging import belonging
from stillroom.publish.page.fan_files import FanFiles
from stillroom.vocabulary import from_si

NUMBER = re.compile(r"(?<![\w.])[−-]?\d[\d,]*(?:\.\d+)?(?![\w])")
TOLD = re.compile(
    r"(?P<value>[−-]?[\d,]+(?:\.\d+)?) (?P<unit>\S+) \((?P<low>[−-]?[\d,.]+) to (?P<high>[−-]?[\d,.]+)\)"
)
BLANK = re.compile(r"\s+")


# --- how a number is printed ------------------------------------------------------------------------------


def places(half: float) -> int:
    """Two digits of half an interval below 30, else one; the decimal place of the last."""
    exponent = math.floor(math.log10(half))
    if round(half / 10.0**exponent, 1) >= 10.0:
        exponent += 1
    return (1 if round(half / 10.0**exponent, 1) < 3.0 else 0) - exponent


def printed(value: float, place: int) -> str:
    """Groups of three parted by commas, a true minus."""
    return f"{round(value, place):,.{max(0, place)}f}".replace("-", "−")


def bare(text: str) -> str:
    """The same as files have it."""
    return text.replace(",", "").replace("−", "-")


def flat(text: str) -> str:
    return BLANK.sub(" ", text)


def place_of(each: Standing) -> int:
    ends = [end for end in (each.low, each.high) if math.isfinite(end)]
    half = (ends[1] - ends[0]) / 2 if len(ends) == 2 else abs(ends[0] - each.value)
    return places(half)


def cells_of(each: Standing) -> dict[str, str]:
    """Value and interval as files print them."""
    place = place_of(each)
    told = {"value": each.value, "low": each.low, "high": each.high}
    return {name: bare(printed(end, place)) if math.isfinite(end) else "" for name, end in told.items()}


def interval_words(value: float, low: float, high: float, unit: str) -> str:
    place = places((high - low) / 2)
    return f"{printed(value, place)} {unit} ({printed(low, place)} to {printed(high, place)})"


def is_plain(each: Standing) -> bool:
    """Whether it is a value with both ends of its interval."""
    return each.bound is Bound.NONE and math.isfinite(each.high - each.low)


# --- tables -----------------------------------------------------------------------------------------------


def standings_csv(folder: Path, fresh: Contents) -> Iterator[str]:
    for one in fresh.published:
        text = (folder / "standings" / f"{one.slug}.csv").read_text(encoding="utf-8")
        names = ("value [", "95 % from [", "95 % to [")
        yield from _rows(
            one, csv.DictReader(io.StringIO(text, newline="")), names, f"standings/{one.slug}.csv"
        )


def chart_csv(folder: Path, fresh: Contents) -> Iterator[str]:
    for one in fresh.published:
        text = (folder / "charts" / f"{one.slug}.csv").read_text(encoding="utf-8-sig")
        names = (f"{one.measure.title} [", "95 % from [", "95 % to [")
        yield from _rows(one, csv.DictReader(io.StringIO(text, newline="")), names, f"charts/{one.slug}.csv")


def open_standings(folder: Path, fresh: Contents) -> Iterator[str]:
    with (folder / "data" / "standings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for one in fresh.published:
        own = [each for each in rows if each["slug"] == one.slug]
        yield from _rows(one, own, ("value", "low", "high"), f"data/standings.csv, {one.slug}")


def _rows(
    one: Published, rows: Iterable[Mapping[str, str]], names: tuple[str, str, str], place: str
) -> Iterator[str]:
    """Value and both ends of each fan, in the order of the ranking; columns by how their headers begin."""
    told = list(rows)
    for row, each in zip(told, one.ranking.standings, strict=False):
        fan = row.get("Fan") or row.get("fan") or ""
        if fan != each.fan:
            yield f"{place}: {fan} stands where {each.fan} should"
        for name, (kind, expected) in zip(names, cells_of(each).items(), strict=True):
            cell = next(text for header, text in row.items() if header.startswith(name))
            if bare(cell) != expected and not (each.bound is not Bound.NONE and _is_bound(cell, each, kind)):
                yield f"{place}: {kind} of {each.fan} is {cell}, worked out anew {expected}"
    if len(told) < len(one.ranking.standings):
        yield f"{place}: {len(told)} rows for {len(one.ranking.standings)} fans"


def _is_bound(cell: str, each: Standing, kind: str) -> bool:
    """Whether a cell of a bound or a range is empty, or true to the digits that it has."""
    value = {"value": each.value, "low": each.low, "high": each.high}[kind]
    return not cell or float(bare(cell)) == round(value, len(cell.partition(".")[2]))


def standings_json(folder: Path, fresh: Contents) -> Iterator[str]:
    """Unrounded: equal to the last bit."""
    for one in fresh.published:
        told = json.loads((folder / "standings" / f"{one.slug}.json").read_text(encoding="utf-8"))
        expected = json.loads(json.dumps(one.ranking.as_dict()))
        yield from _differences(
            expected, {name: told.get(name) for name in expected}, f"standings/{one.slug}.json"
        )


def _differences(expected: Any, told: Any, place: str) -> Iterator[str]:
    if isinstance(expected, dict) and isinstance(told, dict):
        for name in expected.keys() | told.keys():
            yield from _differences(expected.get(name), told.get(name), f"{place}/{name}")
    elif isinstance(expected, list) and isinstance(told, list) and len(expected) == len(told):
        for at, (one, other) in enumerate(zip(expected, told, strict=True)):
            yield from _differences(one, other, f"{place}/{at}")
    elif expected != told:
        yield f"{place}: {told!r}, worked out anew {expected!r}"


def workbook(folder: Path, fresh: Contents) -> Iterator[str]:
    book = openpyxl.load_workbook(folder / "standings" / "standings.xlsx")
    for sheet, one in zip(book.worksheets, fresh.published, strict=False):
        header = [str(each.value) for each in sheet[1]]
        at = {kind: next(i for i, text in enumerate(header) if text.startswith(begin))
              for kind, begin in (("value", "value ["), ("low", "95 % from ["), ("high", "95 % to ["))}  # fmt: skip
        for row, each in zip(sheet.iter_rows(min_row=2), one.ranking.standings, strict=False):
            for kind, expected in cells_of(each).items():
                cell = row[at[kind]]
                shown = (
                    ""
                    if cell.value is None
                    else f"{cell.value:.{len(cell.number_format.partition('.')[2])}f}"
                )
                if shown != expected or (expected and cell.value != float(expected)):
                    yield f"standings.xlsx, {sheet.title}: {kind} of {each.fan} is {shown}, worked out anew {expected}"


def claims(folder: Path, fresh: Contents) -> Iterator[str]:
    with (folder / "data" / "claims.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    shown = [each for each in fresh.claims if each.claim.fan in fresh.fans]
    for row, each in zip(rows, shown, strict=True):
        if each.measured is None:
            continue
        ends = (each.measured.value, each.measured.low, each.measured.high)
        value, low, high = (from_si(end, each.claim.unit) for end in ends)
        expected = [bare(printed(end, places((high - low) / 2))) for end in (value, low, high)]
        told = [row["measured"], row["low"], row["high"]]
        if told != expected:
            yield f"data/claims.csv: {each.claim.name} is {told}, worked out anew {expected}"


# --- pictures and their tables -----------------------------------------------------------------------------


def chart_pictures(folder: Path, fresh: Contents) -> Iterator[str]:
    """The numbers beside the bars, in each picture of a chart of bars."""
    for one in fresh.published:
        for path in sorted((folder / "charts").glob(f"{one.slug}-*-*.svg")):
            told = re.findall(r"<text[^>]*>([^<]*)</text>", path.read_text(encoding="utf-8"))
            values = [printed(each.value, place_of(each)) for each in one.ranking.standings if is_plain(each)]
            for number in (Counter(values) - Counter(map(flat, told))).elements():
                yield f"{path.name}: {number} is not beside a bar"


def other_charts(folder: Path, fresh: Contents) -> Iterator[str]:
    """The table of every other chart, as it is made from results worked out anew."""
    for each in belonging(fresh)[0]:
        path = folder / "charts" / f"{each.name}.csv"
        lines = path.read_text(encoding="utf-8").splitlines()
        expected = table_of(each.whole).as_csv().splitlines()
        for line, other in zip(lines, expected, strict=False):
            if line != other:
                yield f"charts/{each.name}.csv: {line}, worked out anew {other}"
        if len(lines) != len(expected):
            yield f"charts/{each.name}.csv: {len(lines)} lines for {len(expected)}"


# --- documents --------------------------------------------------------------------------------------------


def pdf_text(path: Path) -> str:
    """The words of a PDF; of a text beside it where one was put there instead."""
    instead = path.with_suffix(".words")
    if instead.is_file():
        return instead.read_text(encoding="utf-8")
    return flat("\n".join(page.extract_text() for page in PdfReader(path).pages))


def known_intervals(fresh: Contents) -> set[str]:
    """Every value with its interval that a document may print."""
    known: set[str] = set()
    for one in fresh.published:
        unit = one.ranking.unit
        gap_unit = "dB" if unit == "dBA" else unit
        known |= {interval_words(each.value, each.low, each.high, unit)
                  for each in one.ranking.standings if is_plain(each)}  # fmt: skip
        for pair in one.ranking.pairs:
            if math.isfinite(pair.high - pair.low) and pair.high > pair.low:
                sign = 1.0 if pair.difference >= 0 else -1.0
                ends = sorted((sign * pair.low, sign * pair.high))
                known.add(interval_words(abs(pair.difference), *ends, gap_unit))
    for each in fresh.claims:
        if each.measured is not None:
            ends_ = (from_si(end, each.claim.unit) for end in
                     (each.measured.value, each.measured.low, each.measured.high))  # fmt: skip
            known.add(interval_words(*ends_, each.claim.unit))
    return known


def cards(folder: Path, fresh: Contents) -> Iterator[str]:
    """Each published number of a fan stands on its card, and no other with an interval does."""
    known = known_intervals(fresh)
    for fan, name in card_files(fresh.fans).items():
        path = folder / "documents" / name
        if not path.is_file():
            continue
        text = pdf_text(path)
        for one in fresh.published:
            for each in one.ranking.standings:
                if each.fan == fan and is_plain(each):
                    words = interval_words(each.value, each.low, each.high, one.ranking.unit)
                    if words not in text:
                        yield f"{name}: {words} isn't there ({one.title})"
        yield from _unknown(text, known, name)


def _unknown(text: str, known: set[str], name: str) -> Iterator[str]:
    for hit in TOLD.finditer(flat(text)):
        if hit[0] not in known:
            yield f"{name}: {hit[0]} is no number that was worked out anew"


def account(folder: Path, fresh: Contents) -> Iterator[str]:
    text = (folder / "documents" / "account.txt").read_text(encoding="utf-8")
    yield from _unknown(text, known_intervals(fresh), "account.txt")
    yield from _more_numbers(text, as_text(account_of(fresh).document), "account.txt")


def review(folder: Path, fresh: Contents) -> Iterator[str]:
    text = pdf_text(folder / "documents" / "review.pdf")
    yield from _unknown(text, known_intervals(fresh), "review.pdf")


def methodology(folder: Path, fresh: Contents) -> Iterator[str]:
    text = pdf_text(folder / "documents" / "methodology.pdf")
    text = re.sub(r"page \d+ of \d+|(?:\. ){3,}\d+", "", text)  # the pages, and the contents' numbers of them
    yield from _more_numbers(text, as_text(methodology_of(fresh)), "methodology.pdf")


def _more_numbers(text: str, expected: str, name: str) -> Iterator[str]:
    """Numbers that a text prints more often than it would if it were made from what was worked out anew."""
    there, should = (Counter(NUMBER.findall(flat(each))) for each in (text, expected))
    for number, count in (there - should).items():
        yield f"{name}: {number} stands there {count} times too often"


# --- the reader's page --------------------------------------------------------------------------------------


def page(folder: Path, fresh: Contents) -> Iterator[str]:
    """All that a fan's file holds, unrounded numbers to the last bit."""
    made = FanFiles(fresh, account_of(fresh))
    for path in sorted((folder / "page" / "fans").glob("*.js")):
        text = path.read_text(encoding="utf-8")
        told = json.loads(text[text.index("{") : text.rindex("}") + 1])
        for each in told["standings"]:
            found = next(one for one in fresh.published if one.slug == each["slug"])
            ranked = next((s for s in found.ranking.standings if s.fan == told["name"]), None)
            if ranked is not None and (each["value"], each["unit"]) != (ranked.value, found.ranking.unit):
                yield f"{path.name}: {each['value']} in {each['slug']}, worked out anew {ranked.value}"
        expected = json.loads(json.dumps(made.of(told["name"])))
        yield from _differences(expected, told, f"page/fans/{path.name}")


WALKS = {
    "tables": standings_csv,
    "json": standings_json,
    "workbook": workbook,
    "open data": open_standings,
    "claims": claims,
    "tables of bars": chart_csv,
    "pictures of bars": chart_pictures,
    "tables of other charts": other_charts,
    "cards": cards,
    "account": account,
    "review": review,
    "methodology": methodology,
    "page": page,
}
