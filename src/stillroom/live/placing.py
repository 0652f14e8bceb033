"""Where a growing log belongs: the lab's own way of placing files, asked as if they had been brought in already."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product
from pathlib import PurePosixPath

import numpy as np

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.errors import StillroomError
from stillroom.lab.book import open_book, place_all
from stillroom.lab.heat.graph import heats_of
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import build_graph
from stillroom.live.growing import GrowingLog
from stillroom.methods.heat.channels import HOT
from stillroom.methods.heat.loggers import PAUSE, Stretch, loggers_of, plain_name
from stillroom.methods.heat.moments import moment_of, seconds_of
from stillroom.quality.heat.replicates import repeated_steps
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.readers.words.kinds import Kind
from stillroom.records.acts import Taken
from stillroom.store import results
from stillroom.store.lab import Lab

NOBODY = "a fan that no name tells"
"""The fan of logs of which nothing tells one."""

_SAMPLE = re.compile(r"(?:^|[^a-z0-9])s(\d{1,2})(?:[^a-z0-9]|$)", re.IGNORECASE)


class Places:
    """Places logs of watched rigs by a lab's records, as they stand when it is made."""

    def __init__(self, lab: Lab) -> None:
        self.lab, self.book = lab, open_book(lab)
        placed = place_all(self.book)
        baths = [each.taken for each in placed if each.is_bath]
        self._baths = {each.name: each for each in baths}
        fans = {
            *self.book.fans,
            *(each.fan for each in placed),
            *(each.fan or "" for each in self.book.steps.values()),
        }
        fans |= {each.fan or "" for each in self.book.runs.values()}
        self._fans = sorted(fans - {""}, key=len, reverse=True)
        self._repeated: dict[tuple[str, str], bool] = {}

    def node(self, rig: str, logs: Sequence[GrowingLog]) -> HeatNode | None:
        """The heat node that a rig's logs make: that of the mounting that was read last; None without a hot probe."""
        taken = [_taken(rig, each) for each in logs]
        _in_sessions(rig, taken, logs)
        fans = [self._fan(each, log) for each, log in zip(taken, logs, strict=True)]
        sessions = [(each.said or {})["session"] for each in taken]
        named_in = {session for session, fan in zip(sessions, fans, strict=True) if fan}
        fans = [
            fan or ("" if session in named_in else NOBODY)
            for session, fan in zip(sessions, fans, strict=True)
        ]
        named = [
            replace(each, said={**(each.said or {}), **({"fan": fan} if fan else {})})
            for each, fan in zip(taken, fans, strict=True)
        ]
        book = replace(self.book, taken={**self._baths, **{each.name: each for each in named}})
        try:
            heats = heats_of(book, [each for each in place_all(book) if each.is_heat], frozenset())
        except StillroomError:
            return None
        own = [
            each
            for each in heats.heats
            if each.rig == rig and any(HOT in log.run.placed.taken.quantities for log in each.logs)
        ]
        return max(own, key=lambda node: max(log.run.hours[1] for log in node.logs), default=None)

    def _fan(self, taken: Taken, log: GrowingLog) -> str:
        """The fan of a log: as its name or its notes tell, else one of the lab's fans whose name stands in it."""
        told = (taken.said or {}).get("fan", "") or (taken.found or {}).get("fan", "")
        if told:
            return told
        words = re.sub(r"[_\W]+", " ", PurePosixPath(log.name).stem).casefold()
        return next(
            (each for each in self._fans if re.search(rf"\b{re.escape(each.casefold())}\b", words)), ""
        )

    def has_repeat(self, fan: str, sample: str) -> bool:
        """Whether a mounting of a sample that the lab has already ended with its first setting once more."""
        if (fan, sample) not in self._repeated:
            self._repeated[fan, sample] = self._look_up(fan, sample)
        return self._repeated[fan, sample]

    def _look_up(self, fan: str, sample: str) -> bool:
        for node in build_graph(self.book).heating(fan):
            result = results.get(self.lab.database, node.key)
            if node.sample == sample and result is not None and not result.failed:
                heat: HeatMounting = load_heat(self.lab.path, result)
                if repeated_steps(heat.results):
                    return True
        return False


def name_of(log: GrowingLog) -> str:
    """By what a log is known among those that are placed: files may have had one name one after the other."""
    return f"log{log.number:09d}"


@dataclass(frozen=True)
class Hours:
    """From when to when a log lasts, by its own clock [s]."""

    first: float
    last: float


def hours_of(log: GrowingLog) -> Hours:
    """From when to when a log lasts; from 0 where it tells no time of day."""
    begin = seconds_of(log.known.moment) if log.known else None
    times = log.columns.get("time", np.zeros(1))
    return Hours(begin or 0.0, (begin or 0.0) + float(times[-1]))


def _taken(rig: str, log: GrowingLog) -> Taken:
    """A log as if it had been brought in now."""
    assert log.known is not None
    hours, known = hours_of(log), log.known
    said = {"rig": rig} | dict(known.said)
    sample = _SAMPLE.search(PurePosixPath(log.name).stem)
    if sample and not said.get("sample"):
        said["sample"] = sample[1]
    return Taken(
        sha256=name_of(log),
        file=log.name,
        place="",
        date=known.moment[:10] or moment_of(0.0)[:10],
        layout=known.layout.to_dict(),
        reader=str(READER_VERSION),
        content=Kind.HEAT_LOG.value,
        quantities=tuple(name for name in log.columns if name != "time"),
        points=len(log.columns["time"]),
        said=said,
        measured=known.moment,
        ended=moment_of(hours.last) if known.moment else "",
    )


def _in_sessions(rig: str, taken: list[Taken], logs: Sequence[GrowingLog]) -> None:
    """Files that follow or overlap each other are told to be of one session; files of one logger, of one clock."""
    hours = [hours_of(each) for each in logs]
    loggers = _loggers(logs)
    until, number = -np.inf, 0
    for at in sorted(range(len(logs)), key=lambda each: hours[each].first):
        number += hours[at].first > until + PAUSE
        until = max(until, hours[at].last)
        said = {"session": f"{rig} watched {number}", "logger": loggers[at]} | dict(taken[at].said or {})
        taken[at] = replace(taken[at], said=said)


def _loggers(logs: Sequence[GrowingLog]) -> list[str]:
    """A name for the logger of each file: that of its first file without a number behind, unless another logger of that
    name has other channels or writes at once with it.
    """
    files = [_stretch(each) for each in logs]
    chains: dict[int, list[Stretch]] = {}
    numbers = loggers_of(files)
    for number, each in sorted(zip(numbers, files, strict=True), key=lambda pair: pair[1].first or 0.0):
        chains.setdefault(number, []).append(each)
    names = {number: plain_name(chain[0].file) for number, chain in chains.items()}
    clash = {
        number
        for number, other in permutations(chains, 2)
        if names[number] == names[other] and not _can_be_one(chains[number], chains[other])
    }
    told = {
        number: PurePosixPath(chains[number][0].file).stem if number in clash else name
        for number, name in names.items()
    }
    return [told[number] for number in numbers]


def _can_be_one(some: Sequence[Stretch], others: Sequence[Stretch]) -> bool:
    """Whether one logger can have written both, with a pause."""
    pairs = list(product(some, others))
    return all(one.channels == other.channels and not one.overlaps(other) for one, other in pairs)


def _stretch(log: GrowingLog) -> Stretch:
    hours, known = hours_of(log), log.known
    channels = frozenset(log.columns) - {"time"}
    if known is None or not known.moment:
        return Stretch(log.name, channels, None, None)
    said = dict(known.said)
    return Stretch(log.name, channels, hours.first, hours.last, logger=said.get("logger", ""))
