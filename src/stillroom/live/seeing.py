"""One watched rig: its files as far as they have grown, reduced in the one way, and what the rules say of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import PurePosixPath

import numpy as np

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.errors import StillroomError
from stillroom.lab.facts.heat_facts import clock_facts, gusts_of, u_apart
from stillroom.lab.heat.coolant import coolant_of
from stillroom.lab.heat.nodes import HeatNode, LogNode
from stillroom.lab.heat.work import read_log
from stillroom.live.airing import as_now
from stillroom.live.bringing import calls_of
from stillroom.live.deciding import FileSeen, Seen, StepSeen, again
from stillroom.live.following import Following
from stillroom.live.growing import GrowingLog
from stillroom.live.judging import Account
from stillroom.live.keeping import Keeping
from stillroom.live.placing import NOBODY, Places, hours_of, name_of
from stillroom.live.replacing import goes_on, replaced
from stillroom.methods.heat.aligning import Aligned, aligned, usual_interval
from stillroom.methods.heat.channels import air_of, power_of
from stillroom.methods.heat.constants import capacity_of, resistance_of, told_constant
from stillroom.methods.heat.cutting import ON, Setting, settings_of
from stillroom.methods.heat.liquids import liquid_named
from stillroom.methods.heat.moments import moment_of
from stillroom.methods.heat.probes import calibrated, probes_of_run, put_right
from stillroom.methods.heat.stepping import StepContext, reduce_step, rise_of
from stillroom.methods.heat.told import Log
from stillroom.quality.finding import Finding
from stillroom.quality.heat.checking import check_live
from stillroom.quality.heat.facts import WarmMounting
from stillroom.quality.heat.surroundings import apart_at_most
from stillroom.records.limits import Limits

Check = Callable[[WarmMounting, Limits], list[Finding]]

STILL_HELD = 5.0
"""A setting whose record ends within so many intervals of the newest reading is still being held [1]."""

LATELY = 300.0
"""By the mean power of so many seconds what the rig shows now is brought to nominal power [s]."""

NOW, STALE = 10.0, 60.0
"""What the rig shows now is the mean of so many seconds, where it was read within so many [s]."""


@dataclass
class Rig:
    """A rig that is watched.

    Parameters
    ----------
    name : of it. following : its files. places : where logs belong. accept : see `Seen`. check : the rules.
    """

    name: str
    following: Following
    places: Places
    accept: float | None = None
    check: Check = check_live
    logs: dict[int, GrowingLog] = field(default_factory=dict)
    _done: dict[tuple[float, float, str], HeatStep] = field(default_factory=dict)
    _account: Account = field(default_factory=Account)
    _of: tuple[float, str] = (np.nan, "")
    _resistance: float | None = None
    _baths: dict[str, Log] = field(default_factory=dict)
    _whole: set[tuple[str, int]] = field(default_factory=set)
    _kept: dict[tuple[float, str], Keeping] = field(default_factory=dict)

    def look(self, now: datetime) -> Seen:
        """What is seen of it now."""
        self._read(now)
        understood = [each for each in self.logs.values() if each.is_understood]
        try:
            node = self.places.node(self.name, understood) if understood else None
            return self._seen(node, now)
        except StillroomError as error:
            files = self._files(now, None)
            return Seen(rig=self.name, files=files, why=_plain(error), accept=self.accept)

    def _read(self, now: datetime) -> None:
        """Take what the files gained; what was worked out from readings that are gone is void."""
        for gained in self.following.look(now):
            place = id(gained.file)
            before = self.logs.get(place)
            if gained.anew or before is None:
                name = f"{self.name}/{gained.file.path.name}"
                self.logs[place] = GrowingLog(name, self.places.book, gained.file.line_end)
            self.logs[place].take(gained.data)
            if before is not None and gained.anew and not goes_on(before, self.logs[place]):
                self._forget()
        for file, instead in list(replaced(self.following.files.values(), self.logs)):
            if not goes_on(self.logs.pop(id(file)), instead):
                self._forget()
            self.following.forget(file)
        for file in self.following.files.values():
            if id(file) in self.logs:
                self.logs[id(file)].name = f"{self.name}/{file.path.name}"

    def _forget(self) -> None:
        self._done, self._kept, self._whole, self._of = {}, {}, set(), (np.nan, "")

    def _files(self, now: datetime, node: HeatNode | None) -> tuple[FileSeen, ...]:
        """The files of the run that is on the rig; of all where none is."""
        names = set(node.runs[-1]) if node else set()
        used = {each.run.placed.taken.sha256 for each in node.logs if each.name in names} if node else set()
        shown = []
        for file in self.following.files.values():
            log = self.logs.get(id(file))
            if log is None and file.is_held:  # it could never be opened
                log = GrowingLog(f"{self.name}/{file.path.name}", self.places.book)
            if log is None or not (log.why or file.is_held or not used or name_of(log) in used):
                continue
            shown.append((file, log, hours_of(log).last if log.is_understood else None))
        newest = max((end for _, _, end in shown if end is not None), default=0.0)
        ends: dict[str, float] = {}
        for _, log, end in shown:  # of a logger that begins a new file only the last one counts
            if end is not None:
                ends[_logger(log, node)] = max(end, ends.get(_logger(log, node), -np.inf))
        return tuple(
            FileSeen(
                name=PurePosixPath(log.name).name,
                behind=0.0 if end is None else newest - ends[_logger(log, node)],
                still=max(0.0, (now - file.grown).total_seconds()),
                is_whole=file.is_whole,
                why=log.why,
                is_held=file.is_held,
            )
            for file, log, end in shown
        )

    def _seen(self, node: HeatNode | None, now: datetime) -> Seen:
        files = self._files(now, node)
        if node is None:
            why = "no hot probe read yet" if self.logs else ""
            return Seen(rig=self.name, files=files, why=why, accept=self.accept)
        by_name = {name_of(each): each for each in self.logs.values()}
        logs = {each.name: _log(each, by_name[each.run.placed.taken.sha256]) for each in node.logs}
        baths = [self._bath(each) for each in node.baths]
        probes = probes_of_run(list(logs.values()), baths)
        corrected = {each.told.run: put_right(calibrated(each), probes) for each in logs.values()}
        run = _with_power(aligned([logs[name] for name in node.runs[-1]], corrected))
        told = node.steps_told[-1] if node.steps_told else ()
        settings, _ = settings_of(
            run.channels, run.start, told, kind=node.setting_kind, setting=node.setting, tau=node.rig_told.tau
        )
        steps, grows = self._steps(node, run, settings)
        last = float(run.channels.times[-1])
        begun = None if grows else last - (settings[-1].last if settings else 0.0)
        seen = self._told(node, run, steps, grows, begun, u_apart(probes.offsets))
        paths = {
            name_of(self.logs[id(file)]): file.path
            for file in self.following.files.values()
            if id(file) in self.logs
        }
        return replace(seen, files=self._complete(files, steps), intake=calls_of(node, paths))

    def _bath(self, node: LogNode) -> Log:
        if node.key not in self._baths:
            self._baths[node.key] = read_log(self.places.lab.path, node)
        return self._baths[node.key]

    def _steps(
        self, node: HeatNode, run: Aligned, settings: Sequence[Setting]
    ) -> tuple[tuple[StepSeen, ...], bool]:
        """The steps so far, and whether the last one is still being held."""
        times = run.channels.times
        slack = STILL_HELD * max(usual_interval(times), 1.0)
        steps: list[StepSeen] = []
        grows = False
        for each in settings:
            grows = each.last >= times[-1] - slack
            step = self._step(node, run, each, len(steps) + 1, [one.step for one in steps], grows)
            if step is not None:
                kept = self._kept.setdefault(
                    (each.first, _run_of(node, run)), Keeping(node.tolerance, self.accept)
                )
                step = replace(kept.take(step), number=len(steps) + 1)
                steps.append(StepSeen(step, each.told, kept.steady is not None, kept.accepted is not None))
            else:
                grows = False
        return tuple(steps), grows

    def _step(
        self,
        node: HeatNode,
        run: Aligned,
        setting: Setting,
        number: int,
        before: Sequence[HeatStep],
        grows: bool,
    ) -> HeatStep | None:
        """One step; a step that is over is worked out once."""
        key = (setting.first, setting.last, _run_of(node, run))
        if not grows and key in self._done:
            return self._done[key]
        rig = node.rig_told
        known = told_constant(rig.tau) if rig.tau else None
        capacity = None if known else capacity_of(before)
        if self._of != (setting.first, _run_of(node, run)):
            self._of, self._account, self._resistance = (setting.first, _run_of(node, run)), Account(), None
        if capacity is not None and self._resistance is not None:
            known = capacity.constant(self._resistance)
        context = StepContext(
            number=number,
            nominal=rig.nominal,
            setting_kind=setting.kind,
            setting=setting.setting,
            noise=setting.noise,
            known=known,
            tolerance=node.tolerance,
            liquid=liquid_named(rig.coolant),
            pump_power=rig.pump_power,
        )
        try:
            step = reduce_step(
                run.channels.between(setting.first, setting.last), context, judging=self._account
            )
        except StillroomError:
            return None
        self._resistance = resistance_of(step)
        if not grows:
            self._done[key] = step
        return step

    def _told(
        self,
        node: HeatNode,
        run: Aligned,
        steps: tuple[StepSeen, ...],
        grows: bool,
        begun: float | None,
        apart: float,
    ) -> Seen:
        settings = self.places.book.settings
        wanted = settings.heat.repeat
        once = wanted == "sample" and not self.places.has_repeat(node.fan, node.sample)
        return Seen(
            rig=self.name,
            fan="" if node.fan == NOBODY else node.fan,
            sample="" if node.fan == NOBODY else node.sample,
            moment=_moment(run),
            steps=steps,
            grows=grows,
            begun=begun if _is_on(run) else None,
            planned=tuple(each for each in node.steps_told[-1] if each.first is None and not each.moment),
            repeat=wanted == "always" or once,
            accept=self.accept,
            tolerance=node.tolerance,
            repeat_within=settings.limits.repeat_heat,
            value=_now(run, node.rig_told.nominal),
            findings=tuple(self.check(self._facts(node, run, steps, grows, apart), settings.limits)),
        )

    def _complete(self, files: tuple[FileSeen, ...], steps: Sequence[StepSeen]) -> tuple[FileSeen, ...]:
        """The files; one that was whole once since the last step passed stays so while its logger writes on."""
        if not steps or not (steps[-1].was_steady or steps[-1].step.is_result):
            return files
        self._whole |= {(each.name, len(steps)) for each in files if each.is_whole}
        return tuple(replace(each, is_whole=(each.name, len(steps)) in self._whole) for each in files)

    def _facts(
        self, node: HeatNode, run: Aligned, steps: Sequence[StepSeen], grows: bool, apart: float
    ) -> WarmMounting:
        """What the rules are told; a step that ended too early and was run again is not asked about."""
        kept = [
            each for at, each in enumerate(steps) if each.step.is_result or not again(each, steps[at + 1 :])
        ]
        told, limits = [each.step for each in kept], self.places.book.settings.limits
        if grows and told:
            held = run.channels.between(told[-1].first, told[-1].last)
            told[-1] = as_now(told[-1], held, limits, apart_at_most(limits, apart))
        if grows and told and told[-1].how is not StepHow.STEADY:  # what still warms up keeps heat back
            told[-1] = replace(told[-1], balance=None, u_balance=None)
        air = air_of(run.channels)[0]
        gusts = gusts_of(run.channels.times, air, [each.step for each in kept])
        moment = _moment(run) or node.date
        return WarmMounting(
            name=node.rig,
            fan=node.fan,
            sample=node.sample,
            rig=node.rig,
            radiator=node.radiator,
            date=node.date[:10],
            judged=node.key,
            blocked_as=node.blocked_as,
            file=node.logs[0].subject,
            steps=tuple(told),
            is_running=grows,
            clocks=tuple(clock_facts(each.facts()) for each in run.clocks),
            gusts=gusts,
            nominal=node.rig_told.nominal,
            fans=node.rig_told.fans,
            liquid_flow=node.rig_told.flow,
            coolant_age=coolant_of(self.places.book, node.rig, moment).age(moment) if node.date else None,
            u_apart=apart,
            marks=run.marks,
        )


def _log(node: LogNode, log: GrowingLog) -> Log:
    """A log as the method is given it."""
    return Log(node.told, log.columns)


def _logger(log: GrowingLog, node: HeatNode | None) -> str:
    """The logger of a file, as it was placed; else the file itself."""
    found = (
        (each.run.logger for each in node.logs if each.run.placed.taken.sha256 == name_of(log))
        if node
        else iter(())
    )
    return next(found, "") or log.name


def _run_of(node: HeatNode, run: Aligned) -> str:
    """A name for a run, by which what was worked out of it is kept: a sample may be mounted more than once."""
    return f"{node.mounting} since {node.runs[-1][0] if run.start is None else run.start}"


def _moment(run: Aligned) -> str:
    """The moment of the newest reading, ISO 8601, or ""."""
    return "" if run.start is None else moment_of(run.start + float(run.channels.times[-1]))


def _now(run: Aligned, nominal: float) -> float | None:
    """The rise at nominal power now [K], None where it isn't read; by the mean power of the last while."""
    times = run.channels.times
    recent = run.channels.between(float(times[-1]) - LATELY, float(times[-1]))
    rise = rise_of(recent, nominal, None)[0]
    there = np.flatnonzero(np.isfinite(rise))
    if not there.size or recent.times[there[-1]] < times[-1] - STALE:
        return None
    newest = there[recent.times[there] > recent.times[there[-1]] - NOW]
    return float(rise[newest].mean())


def _with_power(run: Aligned) -> Aligned:
    """A run as far as its heater's logger has come: what is beyond can't be told from a heater that is off."""
    power = power_of(run.channels)
    there = np.flatnonzero(np.isfinite(power)) if power is not None else np.empty(0, dtype=np.intp)
    if not there.size:
        return run
    return replace(run, channels=run.channels.between(0.0, float(run.channels.times[there[-1]])))


def _is_on(run: Aligned) -> bool:
    """Whether the heater is on now; where nobody reads it, it is."""
    power = power_of(run.channels)
    if power is None:
        return True
    there = power[np.isfinite(power)]
    warm = there[there > 0.0]
    return bool(warm.size) and float(there[-1]) > ON * float(np.median(warm))


def _plain(error: StillroomError) -> str:
    return error.sentence()
