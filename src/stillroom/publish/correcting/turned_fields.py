"""A record that changed, told field by field in the units that people use."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom import wording
from stillroom.lab.book import Book
from stillroom.publish.correcting.turned import Turned
from stillroom.records.fields import Column, columns
from stillroom.records.kinds import KINDS
from stillroom.vocabulary import BY_NAME, from_si, is_unit

BARE = frozenset({"gain", "gain_u"})
"""Fields of a calibration that are ratios; its other numbers are in the unit of what is measured."""


def field_words(book: Book, one: Turned) -> list[str]:
    """What changed in a record: "bore of nozzle N40: 40.012 mm → 40.412 mm"; one that is new or gone is so told."""
    noun = f"{NOUNS.get(one.kind, one.kind)} {wording.isolate(one.name)}"
    if one.now is None:
        return [f"{noun} was withdrawn"]
    every = columns(KINDS[one.kind])
    if one.before is None:
        parts = [f"{each.header} {_value(book, one, each, one.now[each.field])}" for each in every
                 if one.now.get(each.field) is not None and _tells_more(each, one)]  # fmt: skip
        return [f"{noun} is new" + (f" ({', '.join(parts)})" if parts else "")]
    before, now = one.before, one.now
    return [
        f"{each.header} of {noun}: {_value(book, one, each, before.get(each.field))}"
        f" → {_value(book, one, each, now.get(each.field))}"
        for each in every
        if before.get(each.field) != now.get(each.field)
    ]


NOUNS = {"run": "run-table row", "spread": "agreed spread of", "step": "step", "legacy": "legacy number"}
"""What records are called, where their kind is not the word."""


def _tells_more(column: Column, one: Turned) -> bool:
    """Whether a field of a new record tells more than the record's name does."""
    return column.type != "json" and str((one.now or {}).get(column.field)) not in one.name


def _value(book: Book, one: Turned, column: Column, value: object) -> str:
    """A field's value with its unit."""
    if value is None:
        return "not told"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        symbol = column.shown or ("" if column.field in BARE else _unit_of(book, one))
        if column.unit and column.unit != symbol and is_unit(symbol):
            value = from_si(value, symbol)
        return wording.with_unit(f"{value:.7g}".replace("-", wording.MINUS), symbol)
    if isinstance(value, list | Mapping):
        return _part(value) or "none"
    return wording.isolate(str(value))


def _part(value: object) -> str:
    if isinstance(value, Mapping):
        return " ".join(f"{name} {_part(each)}" for name, each in value.items())
    if isinstance(value, list):
        return ", ".join(map(_part, value))
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _unit_of(book: Book, one: Turned) -> str:
    """The unit of the bare numbers of instruments and calibrations: that of the quantity that is measured."""
    record = book.instruments.get(str(one.body.get("instrument", "")))
    return BY_NAME[record.quantity].unit if record and record.quantity in BY_NAME else ""
