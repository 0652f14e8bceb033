"""A rig as it stood on a day: an instrument that is exchanged changes the runs from then on, not those before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import Any

from stillroom import wording
from stillroom.errors import Contradiction
from stillroom.lab.book import Book, place_all
from stillroom.records.bench import ALWAYS, Rig
from stillroom.store import journal
from stillroom.store.lab import Lab

Roles = Mapping[str, str]
"""{quantity: instrument}."""


def rig_names(rigs: Mapping[str, Rig]) -> list[str]:
    """The names of all rigs, each once."""
    return list(dict.fromkeys(each.rig for each in rigs.values()))


def rig_on(rigs: Mapping[str, Rig], name: str, date: str) -> Rig | None:
    """The record of a rig that was in force on a day; the first where all are later; None where there is none.

    Parameters
    ----------
    rigs : the lab's records. name : the rig's. date : of the run, ISO 8601.
    """
    own = _by_date(rigs, name)
    before = [each for each in own if _since(each) <= date[:10]]
    return before[-1] if before else own[0] if own else None


def _by_date(rigs: Mapping[str, Rig], name: str) -> list[Rig]:
    return sorted((each for each in rigs.values() if each.rig == name), key=_since)


def _since(rig: Rig) -> str:
    return "" if rig.since in (None, ALWAYS) else str(rig.since)


def moved_roles(before: Roles, after: Roles) -> str:
    """The quantities that another instrument reads than before, in words; "" where none moved."""
    return "; ".join(
        f"{each}: {before[each]} to {after[each]}"
        for each in sorted(before)
        if each in after and after[each] != before[each]
    )


def record_changes(lab: Lab, book: Book, rig: str) -> Iterator[tuple[str, Roles, Roles]]:
    """(date, roles before, roles after) of each change of a rig's record: by the dates that it tells, and by
    the journal where a later entry took the place of an earlier one without telling that it puts it right.
    """
    for before, after in pairwise(_by_date(book.rigs, rig)):
        yield _since(after), before.roles or {}, after.roles or {}
    entries = [each for each in journal.entries_of(lab.database, Rig.kind) if each.name == rig]
    for old, new in pairwise(entries):
        if new.body.get("since") != ALWAYS:
            yield new.time[:10], old.body.get("roles") or {}, new.body.get("roles") or {}


def refused_changes(book: Book, records: Iterable[tuple[Any, str, str]]) -> dict[str, Contradiction]:
    """{file: what is wrong} of files that give a rig another instrument without telling since when, although runs
    were made with the earlier one: whether they keep it can't be told.

    Parameters
    ----------
    records : (record, file, place) of what is being brought in.
    """
    refused: dict[str, Contradiction] = {}
    for record, file, place in records:
        before = book.rigs.get(record.name) if isinstance(record, Rig) and record.since is None else None
        moved = moved_roles(before.roles or {}, record.roles or {}) if before else ""
        count = sum(each.rig == record.rig for each in place_all(book)) if moved else 0
        if count:
            refused[file] = Contradiction(
                f"rig {record.rig!r}",
                place=place,
                found=f"another instrument ({moved}), and {wording.plural(count, 'run')} on the rig already",
                expected="since = DATE of the exchange (earlier runs keep the earlier one),"
                f' or since = "{ALWAYS}" where the record is only put right',
            )
    return refused
