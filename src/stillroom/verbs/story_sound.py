"""What the demo tells of sound: fans at the same noise, the speeds that it allows, and what recordings hid."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from stillroom import wording
from stillroom.compare.standing import Ranking, Standing
from stillroom.demo.sound.truth import SoundTruth
from stillroom.demo.sound.voices import INVERTING
from stillroom.demo.truth import Truth
from stillroom.lab.book import Book
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
from stillroom.lab.pictures import multiples, pictures
from stillroom.lab.pictures.sound.level_pictures import level_chart
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph
from stillroom.lab.sound import set_words
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.limited_field import sound_obstacle
from stillroom.lab.sound.set_list import AtNoise, set_list
from stillroom.lab.sound.set_words import setting_cell, speed_words
from stillroom.lab.through import through_of
from stillroom.measures import Condition, measure_named
from stillroom.quality import Finding
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.verbs.said import Table

LIMIT = 35.0
"""The noise limit of the headline [dBA]."""
LIMITS = (25.0, 30.0, 35.0)
UNIT = "m³/h"
HOUR = 3600.0
ON_LEVELS = (INVERTING, "Bilberry", "Sedge")
"""Fans on the chart of levels: one that inverts, one that keeps most of its airflow, one that tops out."""
SHOWN = 8
"""Fans on a chart at most, best first: some bars say more than their number."""


@dataclass(frozen=True)
class AtSameNoise:
    """The demo's fans at the same noise, with one obstacle mounted.

    Parameters
    ----------
    book, graph : as they stand when all is decided. obstacle : as in the truth.
    blocked : {mounting: rule} of what is still open.
    """

    lab: Lab
    truth: Truth
    book: Book
    graph: Graph
    obstacle: str
    blocked: Mapping[str, str]
    progress: Progress

    @cached_property
    def ranked(self) -> Ranking:
        """Airflow at the headline's limit."""
        return self._at(LIMIT)

    @cached_property
    def _rows(self) -> dict[tuple[str, float | None], AtNoise]:
        """Each fan at each limit."""
        conditions = [Condition(obstacle=self.obstacle, noise=each) for each in LIMITS]
        found = set_list(Sounds(self.lab, self.book, self.graph), conditions)
        return {(each.fan, each.noise): each for each in found.rows}

    def charts(self, folder: Path) -> tuple[Path, ...]:
        """The headline's bars, then levels against speed; their files."""
        words = pictures.described(self.book, self.obstacle)
        measure = measure_named("airflow")
        picture, name = pictures.bars(self.lab.settings, self.ranked, measure, "", SHOWN, words)
        return (*pictures.save(picture, folder, name), *self._levels(folder))

    def panels(self, folder: Path) -> tuple[Path, ...]:
        """The same fans at three limits; their files."""
        found = [self._at(each) for each in LIMITS]
        across = multiples.at_limits(self.book, found)
        picture, name = multiples.panels(
            self.book, found, measure_named("airflow"), fans=SHOWN, across=across
        )
        return pictures.save(picture, folder, name)

    def speeds(self) -> Table:
        """What each fan has to do for the limit: its speed, ours and the truth's, and what must be said."""
        rows = []
        for each in self._compared:
            row, truth = self._rows.get((each.fan, LIMIT)), self._sound.limit(each.fan, self.obstacle, LIMIT)
            if row is not None:
                rows.append((each.fan, _speed(row), f"{truth.speed * 60:,.0f}", "; ".join(row.marks)))
        return Table(
            (f"fan at {LIMIT:g} dBA", "speed [rpm], ours with 95 %", "truth [rpm]", "what must be said"),
            tuple(rows),
            right=(2,),
        )

    def truths(self) -> Table:
        """The true airflow at the limit beside ours."""
        rows = []
        for each in self._compared:
            flow = self._sound.limit(each.fan, self.obstacle, LIMIT).flow * HOUR
            inside = each.low <= flow <= each.high
            rows.append((each.fan, f"{flow:.1f}", interval_words(each), "inside" if inside else "outside"))
        headers = ("fan", f"truth of the model [{UNIT}]", "ours, with 95 %", "the truth lies")
        return Table(headers, tuple(rows), right=(1,))

    def settings(self) -> Table:
        """The set list in short: speed and setting of each fan at each limit."""
        fans = sorted({fan for fan, _ in self._rows} - {self.truth.reference_fan})
        cells = [(fan, *(_setting(self._rows.get((fan, limit))) for limit in LIMITS)) for fan in fans]
        return Table(("fan", *(f"{each:g} dBA" for each in LIMITS)), tuple(cells))

    @property
    def _compared(self) -> list[Standing]:
        """The fans that are compared: the one that only watches the rigs was heard in free air."""
        return [each for each in self.ranked.standings if each.fan != self.truth.reference_fan]

    @property
    def _sound(self) -> SoundTruth:
        assert self.truth.sound is not None
        return self.truth.sound

    def _at(self, limit: float) -> Ranking:
        asked = Asked(measure_named("airflow"), Condition(obstacle=self.obstacle, noise=limit))
        found = rank_fans(
            self.lab, self.book, self.graph, asked, blocked=self.blocked, progress=self.progress
        )
        return found.in_unit(UNIT)

    def _levels(self, folder: Path) -> tuple[Path, ...]:
        mounted = sound_obstacle(through_of(self.book, self.graph, self.obstacle))
        picture, name = level_chart(self.lab, self.book, self.graph, INVERTING, ON_LEVELS, mounted, (LIMIT,))
        return pictures.save(picture, folder, name)


def interval_words(each: Standing) -> str:
    """A value with its interval, in the story's unit."""
    return wording.with_interval(each.value, each.low, each.high, UNIT)


def recording_numbers(lab: Lab, graph: Graph, finding: Finding) -> tuple[str, str] | None:
    """What a doubted recording, or a mounting's sound, read and should have; None where it is none."""
    kind, _, name = finding.subject.partition(":")
    for node in graph.sounds:
        result = results.get(lab.database, node.key)
        facts: list[dict[str, Any]] = result.body["recordings"] if result else []
        own = [each for each in facts if each.get("run") == name] if kind == "run" else facts
        if own and (kind == "run" or node.subject == name):
            tell = _NUMBERS.get(finding.rule, _levels_read)
            return tell(own, facts)
    return None


Facts = Sequence[Mapping[str, Any]]


def _levels_read(own: Facts, _: Facts) -> tuple[str, str]:
    """The level over every second, and over those that were kept."""
    seconds = own[0].get("seconds") or []
    whole = 10 * math.log10(sum(10 ** (each / 10) for each in seconds) / len(seconds)) if seconds else None
    return _dba(whole), _dba(own[0].get("level"))


def _speeds_read(own: Facts, _: Facts) -> tuple[str, str]:
    speed = own[0].get("speed") or {}
    return _rpm(speed.get("tachometer")), _rpm(speed.get("sound"))


def _backgrounds(_: Facts, every: Facts) -> tuple[str, str]:
    return _of_what(every, "background before"), _of_what(every, "background after")


def _calibrators(_: Facts, every: Facts) -> tuple[str, str]:
    return _of_what(every, "calibrator before"), _of_what(every, "calibrator after")


def _distances(own: Facts, _: Facts) -> tuple[str, str]:
    told = next((each["distance"] for each in own if each.get("distance") is not None), None)
    return ("not told" if told is None else f"{told:g} m"), "0.5 m"


_NUMBERS: dict[int, Callable[[Facts, Facts], tuple[str, str]]] = {
    5: _calibrators, 9: _backgrounds, 11: _levels_read, 12: _distances, 20: _speeds_read,
}  # fmt: skip
"""{rule: what shows its doubt in numbers, before and after}."""


def _of_what(every: Iterable[Mapping[str, Any]], what: str) -> str:
    return next((_dba(each.get("level")) for each in every if each.get("what") == what), "none")


def _dba(level: float | None) -> str:
    return "none" if level is None else f"{level:.1f} dBA"


def _rpm(speed: float | None) -> str:
    return "none" if speed is None else f"{speed * 60:,.0f} rpm"


def _speed(row: AtNoise) -> str:
    return f"{speed_words(row)} ({set_words.interval_words(row)})" if row.speed is not None else row.why


def _setting(row: AtNoise | None) -> str:
    """Speed and setting in short."""
    if row is None or row.speed is None:
        return row.why if row else "no sound"
    topped = ", tops out" if row.tops_out else ""
    return f"{speed_words(row)}, {setting_cell(row)}{topped}"
