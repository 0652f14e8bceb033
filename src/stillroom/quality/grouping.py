"""Findings of one cause as one thing to decide: ten sweeps through one wrong nozzle are one line."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from stillroom.quality.finding import Finding


@dataclass(frozen=True)
class Group:
    """Findings of one rule, severity and cause, in their order.

    Parameters
    ----------
    members : at least one.
    """

    members: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The finding that it is told by."""
        return self.members[0]

    @property
    def id(self) -> str:
        """The finding's own name; of several a "g" and seven digits, which change when a member comes or goes."""
        if len(self.members) == 1:
            return self.first.id
        text = "\n".join(sorted(each.id for each in self.members))
        return "g" + hashlib.sha256(text.encode()).hexdigest()[:7]

    @property
    def fans(self) -> tuple[str, ...]:
        """All fans whose numbers hang on it."""
        return tuple(sorted({fan for each in self.members for fan in each.fans}))

    @property
    def actions(self) -> tuple[str, ...]:
        """What can be decided of all its members alike."""
        return tuple(each for each in self.first.actions if all(each in one.actions for one in self.members))

    def as_dict(self) -> dict[str, Any]:
        """As a JSON object: its name, and those of its findings."""
        first = self.first
        return {
            "id": self.id,
            "rule": first.rule,
            "title": first.title,
            "severity": first.severity.value,
            "cause": first.cause,
            "fans": list(self.fans),
            "findings": [each.id for each in self.members],
        }


def grouped(found: Iterable[Finding]) -> list[Group]:
    """The findings by common cause, in the order of the first of each."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for each in found:
        groups.setdefault(each.pattern, []).append(each)
    return [Group(tuple(members)) for members in groups.values()]
