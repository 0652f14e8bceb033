"""All that a reader's page looks up, gathered from a lab: tables of its fans, obstacles, spreads and words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.combine import spread_between_samples
from stillroom.core.sound.limit import LimitRule
from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.blocking import blocked_in
from stillroom.lab.cases import brought_over, fan_cases
from stillroom.lab.curves import result_of
from stillroom.lab.eras.bridges import Bridging
from stillroom.lab.executor import Progress, are_started, each_done, silent
from stillroom.lab.field import Field
from stillroom.lab.question import Question, greatest_is_full
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.through import Through
from stillroom.lab.valuing import FanCase, mounting_values
from stillroom.lab.whole import Whole
from stillroom.measures import Condition, measure_named
from stillroom.publish.estimate import flows, speeds
from stillroom.publish.estimate.flows import FlowTable
from stillroom.publish.estimate.kept import (
    FLOWS,
    SPEEDS,
    FlowTask,
    flow_work,
    keep_speeds,
    load_flows,
    load_speeds,
)
from stillroom.publish.estimate.obstacles import Obstacle, obstacles_of
from stillroom.publish.estimate.speeds import SpeedTable, speed_table
from stillroom.publish.estimate.spread_kinds import SpreadKind, spread_kind
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.results import Result

FEW = 12
"""Up to so many fans are worked out in this process: a worker's start takes as long."""

NO_RUN = "no run that can be used"

THROUGH, FREE = "airflow", "free-airflow"
"""The measures that are looked up: behind something, and in free air."""


@dataclass(frozen=True)
class FanAirflow:
    """A fan's airflow in free air, or measured with an obstacle mounted.

    Parameters
    ----------
    table : as of `FlowTable`. samples, mountings : on which it rests. marks : said beside any number of it.
    own_samples : relative spread between its samples, of each kind of question. bridged : relative standard
    uncertainty of the bridges between eras that its mean leans on [1].
    """

    table: FlowTable
    samples: int
    mountings: int
    marks: tuple[str, ...]
    own_samples: tuple[float, ...] = ()
    bridged: float = 0.0


@dataclass(frozen=True)
class FanTables:
    """All tables of one fan.

    Parameters
    ----------
    fan : its name. airflow : by the obstacle mounted, "" for none; no_airflow : why there is none, by the same.
    sound : by the obstacle with which it was heard, "" in free air. sound_marks : said beside what leans on it.
    no_sound : why there is none.
    """

    fan: str
    airflow: Mapping[str, FanAirflow]
    no_airflow: Mapping[str, str]
    sound: Mapping[str, SpeedTable]
    sound_marks: Mapping[str, tuple[str, ...]]
    no_sound: str = ""


@dataclass(frozen=True)
class Gathered:
    """What a page looks up; `kinds` are of airflow behind something and free, each at full setting and at a limit."""

    fans: tuple[FanTables, ...]
    obstacles: tuple[Obstacle, ...]
    kinds: tuple[SpreadKind, ...]
    distance: float | None


def gathered(whole: Whole, progress: Progress = silent) -> Gathered:
    """Work out what is missing, and gather the tables of all fans of a lab."""
    lab, book, graph = whole.lab, whole.book, whole.graph
    sounds = Sounds(lab, book, graph)
    obstacles = obstacles_of(lab, book, graph)
    names = sorted(graph.fans | set(book.fans))
    free = _Airflow(whole, sounds, Through(), obstacles)
    mounted = {each.through.mounted: _Airflow(whole, sounds, each.through, ()) for each in obstacles
               if each.through.mounted}  # fmt: skip
    ways = {"": free, **mounted}
    kinds = tuple(_kinds(sounds, free, whole))
    airflow = {name: way.tables(kinds, progress) for name, way in ways.items()}
    fans = []
    for at, name in enumerate(names):
        progress("speeds at noise limits", at, len(names))
        sound, marks, why = _sound(sounds, name, free.blocked)
        of_fan = {way: found[0][name] for way, found in airflow.items() if name in found[0]}
        without = {way: found[1].get(name, NO_RUN) for way, found in airflow.items() if name not in found[0]}
        fans.append(FanTables(name, of_fan, without, sound, marks, why))
    progress("speeds at noise limits", len(names), len(names))
    return Gathered(tuple(fans), obstacles, kinds, sounds.comparable.geometry.distance)


def _kinds(sounds: Sounds, free: _Airflow, whole: Whole) -> Iterator[SpreadKind]:
    """Of airflow behind something and in free air, each at full setting and at a noise limit."""
    limits = whole.book.settings.sound.limits
    noise = limits[len(limits) // 2] if limits else 30.0
    for question in (free.question, Question(measure_named(FREE), Condition())):
        for condition in (Condition(), Condition(noise=noise)):
            told = Condition(obstacle=question.condition.obstacle, noise=condition.noise)
            asked = Question(question.measure, told, question.through)
            yield spread_kind(sounds, Field(asked, free.nodes, (), None), free.blocked)


class _Airflow:
    """The mountings of all fans that were measured in one way, and what one question says of them.

    The question, at full setting behind an obstacle of middling resistance, tells what any other would: which
    mountings take part, the bridges between eras, and what must be said of them.
    """

    def __init__(self, whole: Whole, sounds: Sounds, through: Through, obstacles: Sequence[Obstacle]) -> None:
        lab, book, graph = whole.lab, whole.book, whole.graph
        self.whole, self.sounds = whole, sounds
        measured = [each for each in obstacles if each.resistance is not None]
        measured.sort(key=lambda each: each.resistance.linear_quadratic if each.resistance else ())
        middling = measured[len(measured) // 2] if measured else None
        if through.mounted:
            self.question = Question(measure_named(THROUGH), Condition(obstacle=through.mounted), through)
        elif middling:
            asked = Condition(obstacle=middling.words)
            self.question = Question(measure_named(THROUGH), asked, middling.through)
        else:
            self.question = Question(measure_named(FREE), Condition())
        self.blocked = blocked_in(whole.found, book, graph, self.question.condition.obstacle)
        every = [each for each in graph.mountings() if each.obstacle == through.mounted]
        self.nodes: dict[str, tuple[CurveNode, ...]] = {
            fan: tuple(each for each in every if each.fan == fan)
            for fan in sorted({each.fan for each in every})
        }
        self.field = Field(self.question, self.nodes, (), None)
        self.values = mounting_values(lab, self.question, every)
        self.bridging: Bridging = brought_over(lab, book, graph, self.field, self.values, self.blocked)

    def tables(
        self, kinds: Sequence[SpreadKind], progress: Progress
    ) -> tuple[dict[str, FanAirflow], dict[str, str]]:
        """{fan: its airflow}, and {fan: why it has none}."""
        whole = self.whole
        cases, failed = fan_cases(
            whole.lab, whole.book, self.field, self.values, self.blocked, self.bridging, kinds[0].spreads
        )
        tasks = [task for case in cases if (task := self._task(case.candidate.fan)) is not None]
        there = results.known(whole.lab.database, whole.lab.path, [each.key for each in tasks])
        wanted = [each for each in tasks if each.key not in there]
        workers = 1 if len(wanted) <= FEW and not are_started() else 0
        for done, result in enumerate(each_done(flow_work, wanted, workers=workers), start=1):
            whole.lab.put_results([result])
            progress("tables of airflow", done, len(wanted))
        kept = {each.fan: results.get(whole.lab.database, each.key) for each in tasks}
        found, why = {}, {each.fan: each.why for each in failed}
        for case in cases:
            table = kept.get(case.candidate.fan)
            if table is None or table.failed:
                why[case.candidate.fan] = table.failed if table else NO_RUN
            else:
                found[case.candidate.fan] = self._airflow(case, table, kinds)
        return found, why

    def _used(self, fan: str) -> list[CurveNode]:
        """The mountings that could be reduced, whatever the one question found on them."""
        return [node for node in sorted(self.nodes[fan], key=lambda each: (each.sample, each.subject))
                if node.subject not in self.bridging.unbridged and self._reduced(node) is not None]  # fmt: skip

    def _reduced(self, node: CurveNode) -> Result | None:
        try:
            return result_of(self.whole.lab, node)
        except StillroomError:
            return None

    def _task(self, fan: str) -> FlowTask | None:
        used = self._used(fan)
        if not used:
            return None
        samples = [each.sample for each in used]
        parts, told = [], []
        for node in used:
            weight = 1.0 / len(set(samples)) / samples.count(node.sample)
            weight *= self.bridging.carried.ratio(node.subject)
            reduced = self._reduced(node)
            if reduced is not None:
                parts.append((reduced, weight, node.sample))
            told.append([node.key, weight])
        is_full = all(map(greatest_is_full, used))
        key = key_of(FLOWS, flows.VERSION, fan, told, is_full)
        return FlowTask(self.whole.lab.path, key, fan, tuple(parts), is_full)

    def _airflow(self, case: FanCase, result: Result, kinds: Sequence[SpreadKind]) -> FanAirflow:
        candidate = case.candidate
        cells: dict[str, list[float]] = {}
        for node in self._used(candidate.fan):
            value = self.values[node.subject]
            if not value.failed:
                ratio = self.bridging.carried.ratio(node.subject)
                cells.setdefault(node.sample, []).append(float(value.body["value"]) * ratio)
        own = tuple(spread_between_samples(_arrays(cells.values()), each.spreads, None).sd for each in kinds)
        marks = tuple(each for each in candidate.marks if not _is_of_the_question(each))
        table = load_flows(self.whole.lab.path, result)
        return FanAirflow(
            table, candidate.samples, candidate.mountings, marks, own, self._bridged(candidate.fan)
        )

    def _bridged(self, fan: str) -> float:
        """Relative standard uncertainty of a fan's mean by its bridges, each an error of its own."""
        used, over = self._used(fan), self.bridging.carried.over
        samples = [each.sample for each in used]
        shares: dict[str, float] = {}
        for node in used:
            if node.subject in over:
                bridge = over[node.subject]
                weight = bridge.u / len(set(samples)) / samples.count(node.sample)
                shares[bridge.identity] = shares.get(bridge.identity, 0.0) + weight
        return float(np.sqrt(sum(each**2 for each in shares.values())))


def _arrays(cells: Iterable[Sequence[float]]) -> list[Array]:
    return [np.array(each) for each in cells]


OF_THE_QUESTION = (
    "not unique",
    "sweeps up and down differ",
    "extrapolated",
    "on a rising branch",
    "modelled",
    "ends at",
)
"""How marks begin that hang on what was asked; a page finds them anew."""


def _is_of_the_question(mark: str) -> bool:
    return mark.startswith(OF_THE_QUESTION)


def _sound(
    sounds: Sounds, fan: str, blocked: Mapping[str, str]
) -> tuple[dict[str, SpeedTable], dict[str, tuple[str, ...]], str]:
    """The tables of a fan's sound and what is said of it, by obstacle; why there is none."""
    nodes = sounds.comparable.nodes.get(fan, ())
    found: dict[str, SpeedTable] = {}
    marks: dict[str, tuple[str, ...]] = {}
    why = sounds.comparable.reason(fan)
    for obstacle in sorted({each.obstacle for each in nodes}):
        try:
            found[obstacle] = _speeds(sounds, fan, obstacle)
        except StillroomError as error:
            why = str(error)
            continue
        names = [each.blocked_as for each in nodes if each.obstacle == obstacle]
        said = dict.fromkeys(found[obstacle].marks)
        said |= {"open finding": None} if any(each in blocked for each in names) else {}
        unchecked = sounds.unchecked(blocked)
        said |= {unchecked[each]: None for each in names if each in unchecked}
        marks[obstacle] = tuple(said)
    return found, marks, "" if found else why


def _speeds(sounds: Sounds, fan: str, obstacle: str) -> SpeedTable:
    """One table, kept by key."""
    lab, told_of_sound = sounds.lab, sounds.book.settings.sound
    rule, usual = LimitRule(told_of_sound.rule), told_of_sound.limits
    nodes = sounds.nodes(fan, obstacle)
    spread = [[each.sd, each.dof] for each in (sounds.spreads.mounting, sounds.spreads.sample)]
    told = [sounds.comparable.key(each) for each in nodes]
    key = key_of(SPEEDS, speeds.VERSION, fan, obstacle, told, spread, rule.value, list(usual))
    if key in results.known(lab.database, lab.path, [key]):
        there = results.get(lab.database, key)
        if there is not None:
            return load_speeds(lab.path, there)
    table = speed_table(sounds.fan(fan, obstacle), rule, usual)
    lab.put_results([keep_speeds(lab.path, key, fan, {each.subject: each.key for each in nodes}, table)])
    return table
