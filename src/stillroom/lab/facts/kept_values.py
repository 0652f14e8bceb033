"""The values that rankings have kept and that still hold, as far as findings ask for them."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.lab import versions
from stillroom.lab.book import Book
from stillroom.lab.recipes import Graph
from stillroom.quality.facts import Published
from stillroom.store.lab import Lab

TELLING = ("extrapolated", "not unique")
"""Marks of a value that a person should look at."""

FLOWS = ("airflow", "free-airflow")
"""Measures whose values are airflows."""

LEADING, TAKING_PART, NOT_SHOWN = 0, 1, 2
"""What a fan is to the comparisons that were kept: leader or contender, among the others, not in any."""


@dataclass(frozen=True)
class KeptValue:
    """One value that a ranking has kept.

    Parameters
    ----------
    fan : whose it is. measure : its name. condition : under which it holds, in words.
    through : the obstacles, with their versions, joined by "+"; or "".
    value : SI. marks : what is said beside it. mountings : that it rests on.
    """

    fan: str
    measure: str
    condition: str
    through: str
    value: float
    marks: tuple[str, ...]
    mountings: frozenset[str]


@dataclass(frozen=True)
class KeptValues:
    """The values in force, by fan; and who contends for the lead.

    Parameters
    ----------
    by_fan : values whose curves are still those of the lab. leading : fans that lead, or can't be told from
    the leader within two margins.
    """

    by_fan: Mapping[str, tuple[KeptValue, ...]]
    leading: frozenset[str]

    def published(self, fan: str) -> tuple[Published, ...]:
        """The values of a fan that carry a telling mark."""
        found = []
        for each in self.by_fan.get(fan, ()):
            marks = tuple(mark for mark in each.marks if mark in TELLING)
            if marks:
                found.append(Published(each.through, f"{each.measure} {each.condition}".strip(), marks))
        return tuple(sorted(found, key=lambda each: (each.through, each.words)))

    def contends(self, fan: str) -> bool:
        """Whether a fan leads a kept comparison, or can't be told from its leader within two margins."""
        return fan in self.leading

    def standing(self, fan: str) -> int:
        """What a fan is to the comparisons that were kept."""
        if fan in self.leading:
            return LEADING
        return TAKING_PART if fan in self.by_fan else NOT_SHOWN

    @property
    def nothing_shown(self) -> int:
        """What is found of no fan in particular stands behind what leaders hang on."""
        return TAKING_PART if self.by_fan else NOT_SHOWN

    def smallest_flow(self, mountings: Collection[str]) -> float | None:
        """The smallest airflow that was kept and rests on one of these mountings [m³/s]; None where none was."""
        flows = [each.value for values in self.by_fan.values() for each in values
                 if each.measure in FLOWS and each.mountings & set(mountings)]  # fmt: skip
        return min(flows, default=None)

    def rests_on(self, mounting: str) -> bool:
        """Whether a kept value rests on a mounting."""
        return any(mounting in each.mountings for values in self.by_fan.values() for each in values)


def kept_values(lab: Lab, book: Book, graph: Graph) -> KeptValues:
    """The values of fans that rankings have kept and whose curves still stand."""
    keys = {each.subject: each.key for each in graph.curves}
    sounds = {each.subject: each.key for each in graph.sounds}
    rows = lab.database.execute("SELECT subject, inputs, method, body FROM results WHERE kind = 'value'")
    found: dict[str, list[KeptValue]] = defaultdict(list)
    for fan, inputs, method, body in rows:
        used = json.loads(inputs)
        curves: dict[str, str] = used["curves"] | used.get("obstacle", {})
        heard: dict[str, str] = used.get("sounds", {})
        if _hold(curves, keys) and _hold(heard, sounds):
            found[fan].append(_kept(fan, method, json.loads(body), used))
    by_fan = {fan: tuple(values) for fan, values in found.items()}
    return KeptValues(by_fan, frozenset(_leading(book, by_fan)))


def _kept(fan: str, method: str, body: Mapping[str, Any], used: Mapping[str, Any]) -> KeptValue:
    condition = body.get("condition") or {}
    told = {name: value for name, value in condition.items() if value not in (None, "", [], {})}
    words = ", ".join(f"{name} {value}" for name, value in sorted(told.items()))
    return KeptValue(fan, method.rpartition(" ")[0], words, "+".join(used.get("obstacle", {})),
                     float(body["value"]), tuple(body["marks"]),
                     frozenset({**used["curves"], **used.get("sounds", {})}))  # fmt: skip


def _hold(used: Mapping[str, str], now: Mapping[str, str]) -> bool:
    """Whether what was used still has the keys that it had."""
    return all(now.get(name) == key for name, key in used.items())


def _leading(book: Book, by_fan: Mapping[str, tuple[KeptValue, ...]]) -> set[str]:
    """The leader of each comparison through a reference, or of each where none is named, and its contenders."""
    references = book.settings.references
    groups: dict[tuple[str, str, float], list[KeptValue]] = defaultdict(list)
    for fan, values in by_fan.items():
        record = book.fans.get(fan)
        size = (record.size if record else None) or 0.0
        for each in values:
            if not references or versions.bare(each.through) in references:
                groups[each.measure, each.condition, size].append(each)
    leading: set[str] = set()
    for (measure, _, _), group in groups.items():
        best = max(each.value for each in group)
        near = best * (1.0 - 2.0 * book.settings.margins.get(measure, 0.05))
        leading |= {each.fan for each in group if len(group) > 1 and each.value >= near}
    return leading
