"""From the logs of a lab's heat rigs to the nodes of its graph of keys."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.heat.coolant import coolant_of
from stillroom.lab.heat.nodes import HeatNode, LogNode
from stillroom.lab.heat.placing import HeatRun, Readings, heat_run
from stillroom.lab.heat.sessions import runs_of
from stillroom.lab.heat.steps import steps_of
from stillroom.lab.judged import Excluded, Judged
from stillroom.lab.versions import in_force
from stillroom.methods.heat import versions
from stillroom.methods.heat.told import RigTold
from stillroom.readers.reading.recording import READER_VERSION
from stillroom.records.keys import key_of


@dataclass(frozen=True)
class Heats:
    """The nodes of heat, the logs that belong to none, with why, and all logs.

    `judged` holds (subject, key) of all that a decision can exclude, as it stands now.
    """

    heats: tuple[HeatNode, ...] = ()
    logs: tuple[LogNode, ...] = ()
    unplaced: tuple[tuple[Placed, str], ...] = ()
    judged: frozenset[Judged] = frozenset()


def heats_of(book: Book, placed: Iterable[Placed], excluded: Excluded) -> Heats:
    """The nodes of all logs of heat rigs.

    Parameters
    ----------
    book : the lab's records. placed : the logs. excluded : by decisions.
    """
    readings = Readings(book)
    own: dict[tuple[str, ...], list[LogNode]] = defaultdict(list)
    beside: dict[str, list[LogNode]] = defaultdict(list)
    baths: dict[str, list[LogNode]] = defaultdict(list)
    unplaced: list[tuple[Placed, str]] = []
    for each in placed:
        try:
            node = _log_node(readings, each)
        except (StillroomError, ValueError) as error:
            words = error.sentence() if isinstance(error, StillroomError) else str(error)
            unplaced.append((each, words))
            continue
        if each.is_bath:
            baths[each.rig].append(node)
        elif each.fan:
            own[each.mounting, each.fan, each.sample, each.rig, each.obstacle].append(node)
        else:
            beside[each.rig].append(node)
    maker = _Maker(book, beside, baths, excluded)
    heats: list[HeatNode] = []
    for group, logs in own.items():
        try:
            heats.append(maker.node(group, logs))
        except StillroomError as error:
            unplaced += [(each.run.placed, error.sentence()) for each in logs]
    logs_used = {each.name for node in heats for each in (*node.members, *node.left_out)}
    lonely = [each for nodes in beside.values() for each in nodes if each.name not in logs_used]
    unplaced += [(each.run.placed, _LONELY) for each in lonely]
    every = [each for pool in (own, beside, baths) for nodes in pool.values() for each in nodes]
    judged = {(f"run:{each.name}", each.key) for each in every}
    judged |= {(f"mounting:{each.subject}", each.judged) for each in heats}
    used = tuple(each for each in heats if each.logs)
    return Heats(used, tuple(every), tuple(unplaced), frozenset(judged))


_LONELY = "it has no hot probe or no fan is named for it, and no run of its rig shares its hours"


def _log_node(readings: Readings, placed: Placed) -> LogNode:
    run, read = heat_run(placed), readings.of(placed)
    taken = placed.taken
    part = () if taken.part is None else (taken.first, taken.last)
    clock = (run.logger, run.offset, run.moment, run.session)
    key = key_of("heat log", taken.sha256, taken.layout, READER_VERSION, clock, read.chains, *part)
    return LogNode(key, run, read.chains, read.calibrations)


@dataclass(frozen=True)
class _Maker:
    """Makes the node of one mounting from those of its logs that are used."""

    book: Book
    beside: dict[str, list[LogNode]]
    baths: dict[str, list[LogNode]]
    excluded: Excluded

    def node(self, group: tuple[str, ...], logs: list[LogNode]) -> HeatNode:
        """The node with its key, and with what it would be had nothing been left out."""
        rig = group[3]
        every = self._made(group, logs, self.beside[rig], self.baths[rig])
        whole = (f"mounting:{every.subject}", every.key) in self.excluded
        used = [each for each in logs if not whole and not self._is_out(each)]
        out = tuple(each for each in every.members if whole or self._is_out(each))
        if not used:
            return replace(every, logs=(), runs=(), judged=every.key, left_out=out)
        if not out:
            return replace(every, judged=every.key)
        pools = [[each for each in pool[rig] if not self._is_out(each)] for pool in (self.beside, self.baths)]
        return replace(self._made(group, used, *pools), judged=every.key, left_out=out)

    def _is_out(self, node: LogNode) -> bool:
        return (f"run:{node.name}", node.key) in self.excluded

    def _made(
        self, group: tuple[str, ...], logs: list[LogNode], beside: list[LogNode], baths: list[LogNode]
    ) -> HeatNode:
        mounting, fan, sample, rig, _ = group
        runs = runs_of(logs, beside)
        first = runs[0][0].run
        date = first.placed.date
        told = self._rig(rig, date, first)
        used = list({each.name: each for run in runs for each in run}.values())
        kind, setting = _setting(logs)
        node = HeatNode(
            key="",
            subject=mounting,
            fan=fan,
            sample=sample,
            mounting=mounting,
            rig=rig,
            radiator=told.radiator,
            date=date,
            logs=tuple(used),
            runs=tuple(tuple(each.name for each in run) for run in runs),
            rig_told=told,
            steps_told=steps_of(self.book.steps, [[each.run for each in run] for run in runs]),
            baths=_in_order(baths, date, used),
            setting_kind=kind,
            setting=setting,
            tolerance=self.book.settings.heat.tolerance,
            trials=self.book.settings.trials,
            judged="",
        )
        return replace(node, key=_key(node))

    def _rig(self, name: str, date: str, run: HeatRun) -> RigTold:
        """The rig as it stood on a day; the radiator that a run tells comes before that of the rig."""
        rig, placed = rig_on(self.book.rigs, name, date), run.placed
        radiator = placed.obstacle or in_force(
            self.book.obstacles, (rig.radiator if rig else None) or "", date
        )
        nominal = (rig.nominal_power if rig else None) or self.book.settings.heat.nominal
        coolant = coolant_of(self.book, name, run.moment or date, placed.told("coolant_filled"))
        return RigTold(
            name=name,
            nominal=nominal,
            fans=(rig.fans if rig else None) or 1,
            coolant=(rig.coolant if rig else None) or "",
            flow=rig.coolant_flow if rig else None,
            pump_power=rig.pump_power if rig else None,
            tau=rig.tau if rig else None,
            radiator=radiator,
            coolant_era=coolant.era,
        )


def _setting(logs: Sequence[LogNode]) -> tuple[str, float | None]:
    """The setting of the whole run, where all of its files tell the same one."""
    told = {(each.run.placed.setting_kind, each.run.placed.setting) for each in logs}
    found = {each for each in told if each[1] is not None}
    return found.pop() if len(found) == 1 else ("", None)


def _in_order(baths: Iterable[LogNode], date: str, logs: Sequence[LogNode]) -> tuple[LogNode, ...]:
    """The bath in force on a day: the last before it, else the first after it, as for calibrations. Others follow only
    where it lacks a probe of the logs.
    """
    before = sorted((each for each in baths if each.run.placed.date <= date), key=_moment, reverse=True)
    after = sorted((each for each in baths if each.run.placed.date > date), key=_moment)
    probes = {name for each in logs for name in each.run.placed.taken.quantities if _is_probe(name)}
    for at, each in enumerate((*before, *after)):
        if probes <= set(each.run.placed.taken.quantities):
            return (*before, *after)[at : at + 1]
    return ()


def _is_probe(name: str) -> bool:
    return name == "hot_temperature" or name.startswith("air_in_temperature")


def _moment(node: LogNode) -> tuple[str, str]:
    return node.run.placed.moment, node.name


def _key(node: HeatNode) -> str:
    settings: tuple[Any, ...] = (
        node.subject, node.fan, node.sample, node.rig_told, node.steps_told, node.setting_kind, node.setting,
        node.tolerance, node.trials,
    )  # fmt: skip
    keys = {each.name: each.key for each in node.logs}
    runs = [[(keys[name], name) for name in run] for run in node.runs]
    return key_of("heat", versions.MOUNTING, settings, runs, [each.key for each in node.baths])
