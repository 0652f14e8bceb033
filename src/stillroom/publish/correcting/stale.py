"""Whether a release is still what the lab says, told by keys and the journal, without working anything out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from stillroom.errors import LabDamaged
from stillroom.lab.book import Book
from stillroom.lab.recipes import Graph
from stillroom.publish.correcting.changes import (
    Change,
    Matter,
    in_order,
    settings_changed,
    versions_changed,
)
from stillroom.publish.correcting.records_changed import records_changed
from stillroom.publish.methods_used import methods_used
from stillroom.publish.release import Release, releases_of
from stillroom.records.keys import LENGTH
from stillroom.store import results
from stillroom.store.lab import Lab

UNSHOWN = frozenset({"names", "rig", "publish.measures"})
"""Settings that say how files are read or what the next release holds: nothing that stands in one moves by them."""


@dataclass(frozen=True)
class Stale:
    """A release that is not what the lab says any more.

    Parameters
    ----------
    release : its name. reason : the first, in words. more : how many others there are.
    """

    release: str
    reason: str
    more: int

    @property
    def words(self) -> str:
        """The line for the day."""
        others = f", and {self.more} more" if self.more else ""
        return f"Release {self.release} is stale: {self.reason}{others} (stillroom correct {self.release})"

    def as_dict(self) -> dict[str, str | int]:
        """As data."""
        return {"release": self.release, "reason": self.reason, "more": self.more}


def stale_releases(lab: Lab, book: Book, graph: Graph) -> tuple[Stale, ...]:
    """The releases whose numbers or words may have moved, the latest first; one that was corrected is past caring for.

    What can't be read of a release is a reason too.
    """
    found = []
    for release in reversed(releases_of(lab.path)):
        try:
            reasons = [] if release.corrected_by else _reasons(lab, book, graph, release)
        except LabDamaged as error:
            reasons = [f"it can't be read ({error})"]
        if reasons:
            found.append(Stale(release.name, reasons[0], len(reasons) - 1))
    return tuple(found)


def what_changed(lab: Lab, book: Book, graph: Graph, release: Release) -> tuple[Change, ...]:
    """What is not as it was when a release was frozen, the most consequential first."""
    changes = [*records_changed(lab, book, release.sequence), *_lapsed(graph, release)]
    changes += versions_changed(dict(release.about.get("methods") or {}), methods_used(graph))
    changes += [
        each
        for each in settings_changed(dict(release.about.get("settings") or {}), asdict(book.settings))
        if each.words.removeprefix("setting ").partition(":")[0] not in UNSHOWN
    ]
    return in_order(_told(changes, fans_of(release)))


def fans_of(release: Release) -> set[str]:
    """The fans that stand in a release, ranked or left out."""
    fans: set[str] = set()
    for each in release.measures:
        try:
            told = release.standings(str(each["slug"]))
        except LabDamaged:
            continue
        fans |= {str(one["fan"]) for one in (*told["standings"], *told["excluded"])}
    return fans


def _told(changes: Iterable[Change], fans: set[str]) -> Iterator[Change]:
    """The changes; all that is of one fan which the release doesn't have is that it is new."""
    new: dict[str, Change] = {}
    for each in changes:
        if not each.fan or each.fan in fans:
            yield each
        else:
            new[each.fan] = Change(
                Matter.FAN_ADDED, f"fan {each.fan} is new", each.entry, each.date, each.by, "", each.fan
            )
    yield from new.values()


def _lapsed(graph: Graph, release: Release) -> list[Change]:
    """Exclusions of the release that stand no more, since what they judged moved."""
    now = {subject for subject, _ in graph.excluded}
    gone = [dict(each) for each in release.about.get("excluded", ()) if each["subject"] not in now]
    return [
        Change(
            Matter.LAPSED,
            f"the exclusion of {str(each['subject']).partition(':')[2]} lapsed: what it judged is not as it was",
            why=str(each["reason"]),
        )
        for each in gone
    ]


KEYED = frozenset({Matter.METHOD, Matter.NOZZLE, Matter.CALIBRATION, Matter.INSTRUMENT, Matter.RIG})
"""Changes that move a number only where its key moves: a new calibration says nothing of earlier runs."""

UNMOVING = frozenset({Matter.FAN_ADDED, Matter.OTHER})


def _reasons(lab: Lab, book: Book, graph: Graph, release: Release) -> list[str]:
    """Why a release may not be what the lab says: in words, the most consequential first."""
    changes = [each for each in what_changed(lab, book, graph, release) if each.matter not in UNMOVING]
    moved = moved_keys(lab, graph, release)
    reasons = [each.words + each.where for each in changes if moved or each.matter not in KEYED]
    if moved and not reasons:
        reasons = [f"{moved[0]} hangs on other readings than those by which it was published"]
    return reasons


def moved_keys(lab: Lab, graph: Graph, release: Release) -> list[str]:
    """The fans and measures of a release whose number hangs on a curve that is not in the lab's graph any more.

    A number whose result is not kept any more tells nothing.
    """
    current = {
        *(each.key for each in graph.curves),
        *(each.key for each in graph.sounds),
        *(each.key for each in graph.heats),
        *(each.key for each in graph.controls),
    }
    found: list[str] = []
    numbers: dict[str, str] = {}
    for measure in release.measures:
        try:
            standings = release.standings(str(measure["slug"]))["standings"]
        except LabDamaged:
            found.append(f"{measure['title']} (its numbers can't be read)")
            continue
        numbers |= {str(each["key"]): f"{measure['title']}, {each['fan']}" for each in standings}
    curves = _curves_of(lab, numbers)
    return found + [words for key, words in numbers.items() if not curves[key] <= current]


CURVES = frozenset({"mounting", "obstacle", "sound", "heat", "control"})
"""The kinds of results that the graph makes its nodes of."""


def _curves_of(lab: Lab, keys: Iterable[str]) -> dict[str, set[str]]:
    """{key of a number: keys of the curves that it hangs on}, as far as the results between them are kept."""
    kept: dict[str, tuple[str, list[str]]] = {}
    waiting = set(keys)
    while waiting:
        found = results.inputs_of(lab.database, waiting)
        kept |= {
            key: (kind, [] if kind in CURVES else list(_keys_in(told))) for key, (kind, told) in found.items()
        }
        waiting = {below for key in found for below in kept[key][1]} - kept.keys()
    return {key: _below(kept, key) for key in keys}


def _below(kept: Mapping[str, tuple[str, list[str]]], key: str) -> set[str]:
    seen, waiting, found = {key}, [key], set()
    while waiting:
        each = waiting.pop()
        kind, inputs = kept.get(each, ("", []))
        if kind in CURVES:
            found.add(each)
        waiting += [below for below in inputs if below not in seen]
        seen.update(inputs)
    return found


def _keys_in(told: Any) -> Iterator[str]:
    if isinstance(told, str):
        if len(told) == LENGTH:
            yield told
    elif isinstance(told, Mapping):
        for each in told.values():
            yield from _keys_in(each)
    elif isinstance(told, list):
        for each in told:
            yield from _keys_in(each)
