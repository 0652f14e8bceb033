"""The same readings in two files: a copy under another name, or a sweep copied under another setting."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.quality.facts import MountingFacts, ObstacleFacts, ReadingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.records.keys import key_of

LEAST_POINTS = 4
"""Fewer readings may be alike by chance."""

DIGITS = 6


@dataclass(frozen=True)
class Print:
    """The fingerprint of one run's readings.

    Parameters
    ----------
    run, file : of the run. key : of the run. readings : of pressure and flow. whole : with the speed as well.
    words : the run as people name it. subject, fan : mounting or obstacle, and fan, that it belongs to now.
    """

    run: str
    file: str
    key: str
    readings: str
    whole: str
    words: str
    subject: str = ""
    fan: str = ""

    def as_list(self) -> list[str]:
        """As a JSON list."""
        return [self.run, self.file, self.key, self.readings, self.whole, self.words]

    @classmethod
    def of(cls, told: Sequence[str]) -> Print:
        """From what `as_list` gave."""
        return cls(*told)


def prints_of(owner: MountingFacts | ObstacleFacts) -> list[Print]:
    """The fingerprints of the runs of a mounting or an obstacle."""
    runs: Iterable[ReadingFacts] = owner.readings if isinstance(owner, MountingFacts) else owner.runs
    return [_print(each) for each in runs if len(each.pressure) >= LEAST_POINTS]


def _print(run: ReadingFacts) -> Print:
    readings = _hash(run.pressure, run.flow)
    whole = readings if run.speed is None else _hash(run.pressure, run.flow, run.speed)
    return Print(run.run, run.file, run.key, readings, whole, run.words)


def _hash(*columns: Array) -> str:
    text = "\n".join(f"{value:.{DIGITS}g}" for each in columns for value in np.asarray(each).tolist())
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def check_copies(prints: Iterable[Print], order: Mapping[str, str]) -> list[Finding]:
    """Rule 1: runs whose readings stand in another, earlier run as well.

    Parameters
    ----------
    prints : of all runs of a lab. order : when each run was measured or came in, {run: text that sorts}.
    """
    same: dict[str, list[Print]] = defaultdict(list)
    for each in prints:
        same[each.readings].append(each)
    return list(_copies([group for group in same.values() if len(group) > 1], order))


def _copies(groups: Sequence[Sequence[Print]], order: Mapping[str, str]) -> Iterator[Finding]:
    for group in groups:
        first, *others = sorted(group, key=lambda each: (order.get(each.run, ""), each.file))
        for each in others:
            yield _copy(each, first)


def _copy(copy: Print, first: Print) -> Finding:
    whole = copy.whole == first.whole
    alike = "all readings" if whole else "pressures and flows"
    where = "" if copy.subject == first.subject else f" of {first.subject}"
    cause = (
        "one file is a copy of the other under another name"
        if whole
        else "a sweep was copied under another setting: pressures and flows are the same, the speeds are not"
    )
    mounting = bool(copy.fan)
    return Finding(
        1,
        f"run:{copy.run}",
        key_of("copy", copy.key, first.key),
        Severity.BLOCKS,
        f"{alike} of {copy.words} ({copy.file}) are those of {first.words}{where} ({first.file})",
        "readings of its own: no two sweeps repeat each other to the last digit",
        cause,
        "compare the two files' times; export the sweep again from the logger, or repeat it",
        copy.file,
        tuple(dict.fromkeys(filter(None, (copy.fan, first.fan)))),
        (copy.subject,) if mounting else (),
        through="" if mounting else copy.subject,
        common=cause,
    )
