"""What changed in a lab's records since a place in the journal, in words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from stillroom import wording
from stillroom.lab.book import Book, Placed, by_path, place_all, row_for
from stillroom.lab.intake.withdrawing import REASON
from stillroom.publish.correcting.changes import Change, Matter
from stillroom.publish.correcting.turned import Turned, turned_since
from stillroom.publish.correcting.turned_fields import field_words
from stillroom.records.acts import Decision, Event, Run, Step, Taken
from stillroom.store import journal
from stillroom.store.lab import Lab

MATTERS: dict[str, Matter] = {
    "nozzle": Matter.NOZZLE,
    "calibration": Matter.CALIBRATION,
    "instrument": Matter.INSTRUMENT,
    "rig": Matter.RIG,
    "obstacle": Matter.OBSTACLE,
    "decision": Matter.DECISION,
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

COUNTED = frozenset({Run.kind, Step.kind, Taken.kind})
"""Kinds whose new records are counted by mounting: a round brings in hundreds."""


def records_changed(lab: Lab, book: Book, sequence: int) -> tuple[Change, ...]:
    """What changed in the records since a place in the journal, in words.

    A decision that says again what was decided of the same run or mounting before is left out, and so is a spread
    that was agreed since for the first time: no number that stood before rests on it.
    """
    decided = {
        (each.body["subject"], each.body["action"])
        for each in journal.entries_of(lab.database, Decision.kind)
        if each.sequence <= sequence
    }
    turned = [each for each in turned_since(lab, sequence) if not _is_nothing(each, decided)]
    counted = [each for each in turned if _is_counted(each)]
    places = _Places(book) if turned else None
    changes = [each for one in turned if one not in counted for each in _changes_of(book, one, places)]
    return (*changes, *_counted(counted, places))


def _is_nothing(one: Turned, decided: Collection[tuple[str, str]]) -> bool:
    if one.kind == "spread":
        return one.before is None
    if one.kind != Decision.kind or one.now is None:
        return False
    return one.before is None and (one.now["subject"], one.now["action"]) in decided


def _is_counted(one: Turned) -> bool:
    is_taken = one.kind == Taken.kind
    return is_taken or (one.kind in COUNTED and one.before is None)


class _Places:
    """Which fan and mounting each run is of."""

    def __init__(self, book: Book) -> None:
        placed, self.rows = place_all(book), by_path(book.runs.values())
        self.by_file: Mapping[str, Placed] = {each.taken.name: each for each in placed}
        self.by_row: Mapping[str, Placed] = {each.row.name: each for each in placed if each.row}
        self.by_subject = {f"run:{each.run}": each.fan for each in placed}
        self.by_subject |= {f"mounting:{each.mounting}": each.fan for each in placed if each.fan}
        self.mountings = {each.mounting: each.fan for each in placed if each.fan}
        self.mountings |= {name: each.fan for name, each in book.mountings.items()}

    def fan(self, one: Turned) -> str:
        """The fan that a record is about; "" for none."""
        body = one.body
        told = str(body.get("fan") or "")
        placed = self.placed(one)
        return (
            told
            or (placed.fan if placed else self._fan_of_file(one))
            or self.by_subject.get(str(body.get("subject", "")), "")
            or self.mountings.get(str(body.get("mounting", "")), "")
        )

    def _fan_of_file(self, one: Turned) -> str:
        """The fan of a file that was withdrawn, by the run table, else by what the file and its name told."""
        if one.kind != Taken.kind:
            return ""
        row = row_for(str(one.body.get("file", "")), self.rows, one.body.get("part"))
        said = [dict(one.body.get(each) or {}).get("fan", "") for each in ("said", "found")]
        return next((each for each in ((row.fan if row else "") or "", *said) if each), "")

    def placed(self, one: Turned) -> Placed | None:
        """The run that a file or a row of the run table is."""
        named = {Taken.kind: self.by_file, Run.kind: self.by_row}
        return named.get(one.kind, {}).get(one.name)


def _changes_of(book: Book, one: Turned, places: _Places | None) -> Iterator[Change]:
    fan = places.fan(one) if places else ""
    for matter, words, why in _OWN.get(one.kind, of_fields)(book, one):
        entry = one.entry
        yield Change(matter, words, entry.sequence, entry.time[:10], entry.by, why, fan, one.name)


Said = list[tuple[Matter, str, str]]
"""(matter, words, reason) of what changed in a record."""


CERTIFICATE = "certificate"


def of_fields(book: Book, one: Turned) -> Said:
    """What changed in a record, field by field; a new certificate is the reason of what changed with it."""
    matter, words = MATTERS.get(one.kind, Matter.OTHER), field_words(book, one)
    new, old = (dict(each or {}).get(CERTIFICATE) for each in (one.now, one.before))
    why = f"certificate {new}" if new else withdrawn_for(one)
    if one.before is not None and new and new != old:
        others = field_words(book, replace(one, before={**one.before, CERTIFICATE: new}))
        words, why = (others, why + (f", in place of {old}" if old else "")) if others else (words, "")
    return [(matter, each, why) for each in words]


def withdrawn_for(one: Turned) -> str:
    """Why a record was taken back, as the journal says; "" where it stands, or nothing is said."""
    return str(one.entry.body.get(REASON, "")) if one.now is None else ""


def _decision(book: Book, one: Turned) -> Said:
    body = one.body
    kind, _, name = str(body["subject"]).partition(":")
    files = {each.run: each.words for each in book.taken.values()} if kind == "run" else {}
    subject, action = wording.isolate(files.get(name, name) or kind), str(body["action"])
    matter = Matter.DECISION if action == "exclude" else Matter.OTHER
    if one.now is None:
        return [(matter, f"the decision on {subject} ({action}) was withdrawn", "")]
    return [(matter, f"{subject} {DECIDED.get(action, action)}", f"{body['reason']} ({body['by']})")]


DECIDED = {"accept": "was accepted as it is", "exclude": "was excluded", "repeat": "is to be repeated"}


def _event(_book: Book, one: Turned) -> Said:
    body = one.body
    on = f" on {body['rig']}" if body.get("rig") else ""
    era = ", with which a new era of the rig begins" if body.get("changes_results") else ""
    verb = "noted" if one.now else "no longer noted"
    matter = Matter.EVENT if era else Matter.OTHER
    return [(matter, f"{verb}{on} for {str(body['time'])[:10]}: {body['text']}{era}", "")]


_OWN: dict[str, Callable[[Book, Turned], Said]] = {Decision.kind: _decision, Event.kind: _event}

NOUNS = {Taken.kind: ("run", ""), Run.kind: ("row", " of the run table"), Step.kind: ("step", "")}


def _counted(turned: Iterable[Turned], places: _Places | None) -> list[Change]:
    """Runs that came in or were withdrawn, and new rows about runs, counted by fan and mounting, or by obstacle."""
    groups: dict[tuple[str, str, str, str], list[Turned]] = defaultdict(list)
    for one in turned:
        placed = places.placed(one) if places else None
        fan = places.fan(one) if places else ""
        where = str(one.body.get("mounting") or "")
        if placed is not None:
            where = f"mounting {placed.mounting}" if placed.fan else placed.obstacle or placed.rig
        groups[(one.kind, one.verb, fan, where)].append(one)
    return [_count_words(*group, members) for group, members in groups.items()]


def _count_words(kind: str, verb: str, fan: str, where: str, members: list[Turned]) -> Change:
    """Such as "three new runs: mounting Bilberry-s1-m3 of Bilberry"."""
    last, (noun, of) = members[-1].entry, NOUNS[kind]
    if verb == "new":
        words = wording.plural(len(members), f"new {noun}") + of
    else:
        words = f"{wording.plural(len(members), noun)}{of} {verb}"
    whose = " of ".join(each for each in (where, wording.isolate(fan) if fan else "") if each)
    words += f": {whose}" if whose else ""
    why = withdrawn_for(members[-1])
    return Change(MATTERS[kind], words, last.sequence, last.time[:10], last.by, why, fan)
