"""The file of all that a reader's page looks up, written with a release."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.compare.candidates import MarginKind
from stillroom.core.settling import MOST_FURTHER, ON_MARGIN, TIE_WIDTH, WIN_WIDTH
from stillroom.lab.book import Book
from stillroom.lab.cases import margin_of
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import usual_size
from stillroom.lab.versions import record_of
from stillroom.measures import measure_named
from stillroom.publish.estimate.gathering import THROUGH, FanTables, Gathered, gathered
from stillroom.publish.estimate.packing import Words, packed_tables
from stillroom.publish.estimate.speeds import At
from stillroom.records.products import Price
from stillroom.vocabulary import BY_NAME, shown_unit

if TYPE_CHECKING:
    from stillroom.publish.contents import Contents

FILE = "data.js"
MILLIMETRE = 1000.0


@dataclass(frozen=True)
class Estimate:
    """What a page looks up, as the one object that it reads."""

    data: Mapping[str, Any]

    @property
    def script(self) -> str:
        """A classic script that sets it; nothing in it can end the script element or be markup."""
        text = json.dumps(self.data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        for sign in "<>&\u2028\u2029":
            text = text.replace(sign, f"\\u{ord(sign):04x}")
        return f"window.stillroomData = {text};\n"


def estimate_of(contents: Contents, progress: Progress = silent) -> Estimate:
    """Work out what is missing, and put together what the page of a release looks up.

    Parameters
    ----------
    contents : what is published; the estimate covers all fans of its lab, whatever measures were chosen.
    """
    book = contents.book
    found = gathered(contents.whole, progress)
    words = Words()
    tables = packed_tables(found, words)
    for told in tables["obstacles"]:
        record = record_of(book.obstacles, told["words"])
        told["tile"] = record.tile_size * MILLIMETRE if record and record.tile_size else None
    fans = _fans(book, found, words)
    with_airflow = [each.fan for each in found.fans if each.airflow]
    usual = usual_size(book, with_airflow)
    margin = margin_of(book, measure_named(THROUGH))
    if margin.kind is not MarginKind.RELATIVE:
        raise AssertionError("the margin of an airflow is a share")
    shown = ("flow", "static_pressure", "speed")
    return Estimate({
        "lab": {"name": book.settings.name, "release": contents.name, "date": contents.date,
                "distance": found.distance},
        "units": {name: shown_unit(BY_NAME[name], book.settings.units) for name in shown},
        "margin": margin.size,
        "limits": _limits(found),
        "sizes": sorted({each for each in fans["size"] if each}),
        "usualSize": None if usual is None else round(usual * MILLIMETRE, 1),
        "settling": {"win": WIN_WIDTH, "tie": TIE_WIDTH, "onMargin": ON_MARGIN, "most": MOST_FURTHER},
        "fans": fans,
        **tables,
        "words": words.list,
    })  # fmt: skip


def write_estimate(contents: Contents, folder: Path, progress: Progress = silent) -> list[Path]:
    """Write `data.js` into a release's page; the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE
    path.write_text(estimate_of(contents, progress).script, encoding="utf-8", newline="\n")
    return [path]


def _limits(found: Gathered) -> dict[str, int | None]:
    """Between which whole dBA a limit says something: from where the first fan runs to where the last tops out."""
    tables = [each for fan in found.fans for each in fan.sound.values()]
    if not tables:
        return {"low": None, "high": None}
    known = [
        float(each.limits[(each.flags & int(At.AT_LEAST)) == 0][:1].sum()) or float(each.limits[-1])
        for each in tables
    ]
    return {"low": int(min(known)), "high": int(max(float(each.limits[-1]) for each in tables)) + 1}


def _fans(book: Book, found: Gathered, words: Words) -> dict[str, list[Any]]:
    """What is told of each fan, by column."""
    records = [book.fans.get(each.fan) for each in found.fans]
    priced = prices_of(book.prices.values())
    return {
        "name": [each.fan for each in found.fans],
        "maker": [each.maker if each else None for each in records],
        "model": [each.model if each else None for each in records],
        "size": [_millimetres(each.size) if each else None for each in records],
        "thickness": [_millimetres(each.thickness) if each else None for each in records],
        "price": [priced.get(each.fan) for each in found.fans],
        "samples": [_most(each, "samples") for each in found.fans],
        "mountings": [_most(each, "mountings") for each in found.fans],
        "marks": [words.all(_marks(each)) for each in found.fans],
    }


def _millimetres(length: float | None) -> float | None:
    return None if not length else round(length * MILLIMETRE, 1)


def _most(fan: FanTables, name: str) -> int:
    return max((int(getattr(each, name)) for each in fan.airflow.values()), default=0)


def _marks(fan: FanTables) -> list[str]:
    """What is said of a fan whatever is asked."""
    return list(dict.fromkeys(mark for each in fan.airflow.values() for mark in each.marks))


def prices_of(prices: Iterable[Price]) -> dict[str, list[Any]]:
    """{fan: its price as value, currency, date and region}: the latest, of several on that date the lowest, in the
    currency in which most fans have one; as a ranking takes them.
    """
    latest: dict[str, dict[str, Price]] = {}
    for each in prices:
        own, currency = latest.setdefault(each.fan, {}), each.currency or ""
        there = own.get(currency)
        if there is None or (each.date or "", -each.price) > (there.date or "", -there.price):
            own[currency] = each
    counted: dict[str, int] = {}
    for own in latest.values():
        for currency in own:
            counted[currency] = counted.get(currency, 0) + 1
    if not counted:
        return {}
    usual = min(counted, key=lambda name: (-counted[name], name))
    return {fan: [own[usual].price, usual, own[usual].date or "", own[usual].region or ""]
            for fan, own in sorted(latest.items()) if usual in own}  # fmt: skip
