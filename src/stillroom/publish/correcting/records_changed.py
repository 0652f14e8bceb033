"""Records that are not as they were at a place in the journal, told field by field."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom import wording
from stillroom.lab.book import Book, Placed, place_all
from stillroom.publish.correcting.changes import Change, Matter
from stillroom.records.acts import Decision, Event, Taken
from stillroom.records.fields import Column, columns
from stillroom.records.kinds import KINDS
from stillroom.store import journal
from stillroom.store.journal import WITHDRAWN, Entry
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, is_unit

MATTERS: dict[str, Matter] = {
    "nozzle": Matter.NOZZLE,
    "calibration": Matter.CALIBRATION,
    "instrument": Matter.INSTRUMENT,
    "rig": Matter.RIG,
    "obstacle": Matter.OBSTACLE,
    "decision": Matter.DECISION,
    "event": Matter.EVENT,
    "mounting": Matter.REGISTRATION,
    "sample": Matter.REGISTRATION,
    "run": Matter.REGISTRATION,
    "step": Matter.REGISTRATION,
    "fan": Matter.REGISTRATION,
    "taken": Matter.RUNS,
    "spread": Matter.SPREAD,
    "claim": Matter.CLAIM,
    "price": Matter.PRICE,
    "legacy": Matter.LEGACY,
}
"""Of which matter a record's change is, by its kind; of others `Matter.OTHER`."""

UNSAID = frozenset({"layout", "release"})
"""Kinds that move nothing: ways of reading that were saved for other files, and that a release was frozen."""


@dataclass(frozen=True)
class Turned:
    """A record before and now: the bodies, None where it didn't stand, and the entry that it changed by."""

    kind: str
    name: str
    before: Mapping[str, Any] | None
    now: Mapping[str, Any] | None
    entry: Entry


def turned_since(lab: Lab, sequence: int) -> tuple[Turned, ...]:
    """Every record whose body is not what it was at a place in the journal, in the order of the last entries.

    One that changed and was taken back since is as it was.
    """
    last: dict[tuple[str, str], Entry] = {}
    for entry in journal.entries(lab.database, after=sequence):
        kind = str(entry.body.get("kind")) if entry.kind == WITHDRAWN else entry.kind
        if kind in KINDS and kind not in UNSAID:
            last[(kind, entry.name)] = entry
    found = []
    for (kind, name), entry in sorted(last.items(), key=lambda each: each[1].sequence):
        before = journal.stood_at(lab.database, kind, name, sequence)
        now = None if entry.kind == WITHDRAWN else entry.body
        if before != now:
            found.append(Turned(kind, name, before, now, entry))
    return tuple(found)


def records_changed(lab: Lab, book: Book, sequence: int) -> tuple[Change, ...]:
    """What changed in the records since a place in the journal, in words.

    A decision that says again what was decided of the same run or mounting before is left out.
    """
    decided = {
        (each.body["subject"], each.body["action"])
        for each in journal.entries_of(lab.database, Decision.kind)
        if each.sequence <= sequence
    }
    turned = [each for each in turned_since(lab, sequence) if not _is_again(each, decided)]
    changes = [each for one in turned if one.kind != Taken.kind for each in _words_of(book, one)]
    taken = [each for each in turned if each.kind == Taken.kind]
    return (*changes, *_runs(book, taken))


def _is_again(one: Turned, decided: Collection[tuple[str, str]]) -> bool:
    """Whether a decision only repeats one from before, which lapsed as what it judged moved."""
    if one.kind != Decision.kind or one.now is None:
        return False
    return one.before is None and (one.now["subject"], one.now["action"]) in decided


def _words_of(book: Book, one: Turned) -> list[Change]:
    make = _OWN.get(one.kind, _fields)
    return [
        Change(
            MATTERS.get(one.kind, Matter.OTHER), words, one.entry.sequence, one.entry.time[:10], one.entry.by,
            why, str((one.now or one.before or {}).get("fan", "")),
        )
        for words, why in make(book, one)
    ]  # fmt: skip


Said = list[tuple[str, str]]
"""(words, reason) of what changed in a record."""


def _fields(book: Book, one: Turned) -> Said:
    """A record told field by field where it stood before; else as new, or as withdrawn."""
    noun = f"{one.kind} {wording.isolate(one.name)}"
    why = _certificate(one.now)
    if one.now is None:
        return [(f"{noun} was withdrawn", "")]
    told = [
        (each, (one.before or {}).get(each.field), one.now.get(each.field))
        for each in columns(KINDS[one.kind])
    ]
    if one.before is None:
        parts = [f"{each.header} {_value(book, one, each, now)}" for each, _, now in told
                 if now is not None and _is_own(each, one.name, now)]  # fmt: skip
        return [(f"{noun} is new" + (f" ({', '.join(parts)})" if parts else ""), why)]
    return [
        (f"{each.header} of {noun}: {_value(book, one, each, was)} → {_value(book, one, each, now)}", why)
        for each, was, now in told
        if was != now
    ]


def _is_own(column: Column, name: str, value: object) -> bool:
    """Whether a field tells more than the record's name does."""
    return column.type != "json" and str(value) not in name


def _certificate(body: Mapping[str, Any] | None) -> str:
    told = (body or {}).get("certificate")
    return f"certificate {told}" if told else ""


def _value(book: Book, one: Turned, column: Column, value: object) -> str:
    """A field's value with the unit that people use."""
    if value is None:
        return "not told"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        symbol = column.shown or ("" if column.field in BARE else _unit_of(book, one))
        if column.unit and symbol and is_unit(symbol) and column.unit != symbol:
            value = from_si(value, symbol)
        return wording.with_unit(f"{value:.7g}".replace("-", wording.MINUS), symbol)
    if isinstance(value, list):
        return ", ".join(_part(each) for each in value) or "none"
    if isinstance(value, Mapping):
        return _part(value) or "none"
    return wording.isolate(str(value))


BARE = frozenset({"gain", "gain_u"})
"""Fields of a calibration that are ratios; its other numbers are in the unit of what is measured."""


def _part(value: object) -> str:
    if isinstance(value, Mapping):
        return " ".join(f"{name} {_part(each)}" for name, each in value.items())
    return f"{value:.7g}" if isinstance(value, float) else str(value)


def _unit_of(book: Book, one: Turned) -> str:
    """The unit of the bare numbers of instruments and calibrations: that of the quantity that is measured."""
    name = str((one.now or one.before or {}).get("instrument", ""))
    record = book.instruments.get(name)
    return BY_NAME[record.quantity].unit if record and record.quantity in BY_NAME else ""


def _decision(book: Book, one: Turned) -> Said:
    body = one.now or one.before or {}
    kind, _, name = str(body["subject"]).partition(":")
    files = {each.run: each.words for each in book.taken.values()} if kind == "run" else {}
    subject = wording.isolate(files.get(name, name) or kind)
    if one.now is None:
        return [(f"the decision on {subject} ({body['action']}) was withdrawn", "")]
    verb = DECIDED.get(str(body["action"]), str(body["action"]))
    return [(f"{subject} {verb}", f"{body['reason']} ({body['by']})")]


DECIDED = {"accept": "was accepted as it is", "exclude": "was excluded", "repeat": "is to be repeated"}


def _event(_book: Book, one: Turned) -> Said:
    body = one.now or one.before or {}
    on = f" on {body['rig']}" if body.get("rig") else ""
    era = ", after which a new era of the rig begins" if body.get("changes_results") else ""
    verb = "noted" if one.now else "no longer noted"
    return [(f"{verb}{on}, {str(body['time'])[:10]}: {body['text']}{era}", "")]


_OWN: dict[str, Callable[[Book, Turned], Said]] = {Decision.kind: _decision, Event.kind: _event}


def _runs(book: Book, turned: Iterable[Turned]) -> list[Change]:
    """Runs that came in or were withdrawn, counted by fan and mounting, or by obstacle."""
    came = {each.name: each for each in turned}
    placed = {each.taken.name: each for each in place_all(book) if each.taken.name in came}
    groups: dict[tuple[str, str, str], list[Turned]] = defaultdict(list)
    for name, one in came.items():
        groups[_group(placed.get(name), one)].append(one)
    return [_run_words(*group, members) for group, members in groups.items()]


def _group(placed: Placed | None, one: Turned) -> tuple[str, str, str]:
    verb = "withdrawn" if one.now is None else "read otherwise" if one.before is not None else "new"
    if placed is None:
        return verb, str(((one.before or {}).get("said") or {}).get("fan", "")), ""
    if placed.fan:
        return verb, placed.fan, f"mounting {placed.mounting}"
    return verb, "", placed.obstacle or placed.rig


def _run_words(verb: str, fan: str, where: str, members: list[Turned]) -> Change:
    last = members[-1].entry
    whose = " of ".join(each for each in (where, wording.isolate(fan) if fan else "") if each)
    words = f"{wording.plural(len(members), 'run')} {verb}" + (f": {whose}" if whose else "")
    return Change(Matter.RUNS, words, last.sequence, last.time[:10], last.by, "", fan)
