"""Legacy numbers of a lab under the condition of a ranking: finished values without raw data."""

from __future__ import annotations

from collections.abc import Iterable

from stillroom.compare.candidates import LegacyNumber
from stillroom.errors import Contradiction, StillroomError
from stillroom.lab import versions
from stillroom.lab.book import Book
from stillroom.measures import Condition, Measure
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.products import Legacy
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME, to_si, unit

SAME_SPEED = 0.005
"""How far two speeds may differ and still be the same condition [1]."""


def records_of(book: Book, measure: Measure, fan: str) -> list[Legacy]:
    """The legacy numbers of a fan by a measure, the latest last."""
    own = [each for each in book.legacy.values() if each.fan == fan and each.measure == measure.name]
    return sorted(own, key=lambda each: each.date or "")


def matching(book: Book, measure: Measure, condition: Condition, fan: str) -> Legacy | None:
    """The latest legacy number of a fan under a condition, or None."""
    fitting = [each for each in records_of(book, measure, fan) if _fits(each, condition)]
    return fitting[-1] if fitting else None


def _fits(record: Legacy, condition: Condition) -> bool:
    return (
        condition.system.is_single and _same_obstacle(record, condition) and _same_setting(record, condition)
    )


def _same_obstacle(record: Legacy, condition: Condition) -> bool:
    """One obstacle, and one version of it where both name one."""
    told, asked = record.obstacle or "", condition.obstacle
    if versions.bare(told) != told and versions.bare(asked) != asked:
        return told == asked
    return versions.bare(told) == versions.bare(asked)


def _same_setting(record: Legacy, condition: Condition) -> bool:
    if condition.speed is not None:
        return record.speed is not None and abs(record.speed / condition.speed - 1.0) <= SAME_SPEED
    if condition.duty is not None:
        return record.duty == condition.duty
    if condition.volts is not None:
        return record.volts == condition.volts
    if condition.is_limited or condition.for_flow is not None or condition.for_heat is not None:
        return False
    return record.speed is None and record.volts is None and record.duty in (None, 1.0)


def number_of(record: Legacy, measure: Measure) -> LegacyNumber:
    """A legacy number as it stands in a ranking, in SI.

    Raises
    ------
    UnknownUnit, Contradiction : a unit that the measure can't be in.
    BadInput : half an interval, or one that doesn't hold the value.
    """
    quantity = BY_NAME[measure.quantity]
    if unit(record.unit).dimension != quantity.dimension:
        raise Contradiction(
            f"legacy number of {record.fan}", found=record.unit, expected=f"a {quantity.dimension}"
        )
    low, high = (None if end is None else to_si(end, record.unit) for end in (record.low, record.high))
    return LegacyNumber(
        record.fan, to_si(record.value, record.unit), low, high, _key(record), tuple(_marks(record))
    )


def _key(record: Legacy) -> str:
    return key_of("legacy", as_json(record))


def _marks(record: Legacy) -> Iterable[str]:
    yield "legacy"
    told = [each for each in (record.source, record.date) if each]
    if told:
        yield f"from {', '.join(told)}"
    if record.method:
        yield f"method: {record.method}"


def kept(record: Legacy) -> Result:
    """What is kept of a legacy number, so that its key can be followed."""
    return Result(_key(record), "legacy", record.fan, {}, "as it was told", False, as_json(record))


def standing(book: Book, measure: Measure, condition: Condition, fan: str) -> LegacyNumber | str:
    """The legacy number of a fan that has no run, or why none can stand in the ranking ("" where it has none)."""
    record = matching(book, measure, condition, fan)
    if record is None:
        return _other_conditions(book, measure, fan)
    try:
        return number_of(record, measure)
    except StillroomError as error:
        return error.sentence()


def remarks(book: Book, measure: Measure, condition: Condition, fan: str) -> Iterable[str]:
    """What is said of a legacy number beside a measured one of the same fan."""
    record = matching(book, measure, condition, fan)
    if record is not None:
        when = f" of {record.date}" if record.date else ""
        yield f"legacy number {record.value:g} {record.unit}{when}, not used"


def _other_conditions(book: Book, measure: Measure, fan: str) -> str:
    """Why a fan's legacy numbers don't stand in a ranking under another condition; "" where it has none."""
    said = []
    for each in records_of(book, measure, fan):
        through = f" through {each.obstacle}" if each.obstacle else ""
        said.append(f"{each.value:g} {each.unit}{through} at {each.setting or 'full setting'}")
    return f"only a legacy number under another condition: {'; '.join(said)}" if said else ""
