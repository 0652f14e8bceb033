"""How the fans of a comparison by sound get their values: at a setting, at a noise limit, for an airflow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from stillroom.compare.candidates import Bound, Candidate, Excluded, How
from stillroom.core.combine import combine_mountings
from stillroom.core.spread import MountingValue, Spreads
from stillroom.errors import StillroomError
from stillroom.lab.cases import brought_over, fan_cases
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked, field_of
from stillroom.lab.heat.cases import HeatCases
from stillroom.lab.kept_value import Uncertainty, kept_value, spread_told
from stillroom.lab.question import Question, spread_name
from stillroom.lab.sound.fan_sound import FREE_AIR, SPREAD, FanSound, Sounds
from stillroom.lab.sound.limits import fan_limit, gain_of, kept_limit
from stillroom.lab.sound.nodes import blocked_as
from stillroom.lab.sound.row_cases import RowValue, at_limit, at_needed, limited_speed, same, to_sone
from stillroom.lab.sound.valuing import SoundValue, sound_value, value_at_speed
from stillroom.lab.spreads import agree_on, pooled_of
from stillroom.lab.valuing import FanCase, mounting_values
from stillroom.measures import Origin, measure_named, system_marks
from stillroom.measures.sound import LEVEL, SHARPNESS
from stillroom.records.keys import key_of
from stillroom.store.results import Result

VERSION = 1
"""Raised when the same sound would give another value."""


@dataclass(frozen=True)
class SoundCase:
    """A fan with its value of sound, and the result that is kept for tracing."""

    candidate: Candidate
    kept: Result


class Way:
    """How the fans of one comparison get their values.

    Parameters
    ----------
    sounds : of the lab. asked : what is asked. obstacle : with which sound is sought, "" in free air.
    blocked : {mounting: rule}. progress, workers : for what is worked out of airflow.
    """

    def __init__(
        self,
        sounds: Sounds,
        asked: Asked,
        obstacle: str,
        blocked: Mapping[str, str],
        progress: Progress,
        workers: int,
    ) -> None:
        self.sounds, self.asked, self.obstacle, self.blocked = sounds, asked, obstacle, blocked
        self.progress, self.workers = progress, workers
        self.condition, self.measure = asked.condition, asked.measure

    def cases(self, fans: list[str]) -> tuple[list[SoundCase], list[Excluded]]:
        """The fans with a value, and why others have none."""
        if self.condition.for_flow is not None:
            return self._at_flow(fans)
        if self.condition.for_heat is not None:
            return self._at_heat(fans)
        return self._at_limit(fans) if self.condition.is_limited else self._at_setting(fans)

    # --- at a noise limit

    def _at_limit(self, fans: list[str]) -> tuple[list[SoundCase], list[Excluded]]:
        cases: list[SoundCase] = []
        failed: list[Excluded] = []
        spoken: dict[str, tuple[FanSound, float, tuple[str, ...], str]] = {}
        for fan in fans:
            try:
                kept = kept_limit(self.sounds, fan, self.obstacle, self.condition)
                if kept.failed:
                    failed.append(Excluded(fan, kept.failed, measured=True))
                    continue
                used = self.sounds.fan(fan, self.obstacle)
                if self.measure.name == SHARPNESS:
                    spoken[fan] = (used, kept.body["speed"], tuple(kept.body["marks"]), kept.key)
                    continue
                cases.append(self._of_limit(fan, used, kept))
            except StillroomError as error:
                failed.append(_without(self.sounds, fan, error))
        if self.measure.name == SHARPNESS:
            found, without = self._combined(
                {fan: told[0] for fan, told in spoken.items()},
                {fan: (told[1], told[2], told[3]) for fan, told in spoken.items()},
            )
            return found, [*failed, *without]
        return cases, failed

    def _of_limit(self, fan: str, used: FanSound, kept: Result) -> SoundCase:
        sounds = self.sounds
        found = fan_limit(sounds.lab, sounds.book, sounds.graph, fan, self.obstacle, self.condition, sounds)
        if self.measure.origin is Origin.LIMIT:
            row = limited_speed(found)
            bound = Bound.AT_LEAST if found.limit.at_least else Bound.NONE
        else:
            row = at_limit(found, used, used.phons, to_sone)
            bound = Bound.AT_MOST if row.is_bound else Bound.NONE
        return self._row_case(used, row, bound, How.INTERPOLATED, found.marks, {"limit": kept.key})

    # --- at the speed that an airflow needs

    def _at_flow(self, fans: list[str]) -> tuple[list[SoundCase], list[Excluded]]:
        sounds, condition = self.sounds, self.condition
        needed = Asked(measure_named("needed-speed"), condition, self.asked.size, self.asked.only)
        field = field_of(sounds.book, sounds.graph, needed)
        nodes = [each for group in field.nodes.values() for each in group]
        values = mounting_values(
            sounds.lab, field.question, nodes, progress=self.progress, workers=self.workers
        )
        bridging = brought_over(sounds.lab, sounds.book, sounds.graph, field, values, self.blocked)
        with_speed, without = fan_cases(sounds.lab, sounds.book, field, values, self.blocked, bridging)
        sounds.lab.put_results(bridging.made)
        return self._at_needed(with_speed, [each for each in (*field.excluded, *without) if each.fan in fans])

    def _at_heat(self, fans: list[str]) -> tuple[list[SoundCase], list[Excluded]]:
        """At the speed that a temperature rise on a heat rig needs, by the sound with its radiator mounted."""
        needed = Asked(measure_named("needed-speed"), self.condition, self.asked.size, self.asked.only)
        heat = HeatCases(self.sounds, needed, self.blocked)
        self.obstacle = heat.obstacle
        return self._at_needed(*heat.cases(fans))

    def _at_needed(
        self, with_speed: list[FanCase], failed: list[Excluded]
    ) -> tuple[list[SoundCase], list[Excluded]]:
        sounds = self.sounds
        sounds.lab.put_results([each.kept for each in with_speed])
        cases: list[SoundCase] = []
        for case in with_speed:
            try:
                cases.append(self._of_flow(case))
            except StillroomError as error:
                failed.append(_without(sounds, case.candidate.fan, error))
        return cases, failed

    def _of_flow(self, case: FanCase) -> SoundCase:
        used = self.sounds.fan(case.candidate.fan, self.obstacle)
        if self.measure.name == LEVEL:
            row = at_needed(case, used, used.levels, same, gain_of(self.condition))
        else:
            row = at_needed(case, used, used.phons, to_sone, 0.0)
        bound = Bound.AT_MOST if row.is_bound else Bound.NONE
        how = How.MODELLED if case.candidate.how is How.MODELLED else How.INTERPOLATED
        marks = [*used.marks, *(each for each in case.candidate.marks if each not in used.marks)]
        marks += [FREE_AIR] if self.condition.for_heat is not None and not used.obstacle else []
        return self._row_case(used, row, bound, how, marks, {"values": {case.candidate.fan: case.kept.key}})

    def _row_case(
        self,
        used: FanSound,
        row: RowValue,
        bound: Bound,
        how: How,
        marks: Iterable[str],
        inputs: dict[str, Any],
    ) -> SoundCase:
        key = key_of("sound value", VERSION, self.measure.name, self.measure.version, self._told, inputs,
                     self._heard_keys(used), spread_told(used.spreads))  # fmt: skip
        candidate = row.candidate(used, key, how, bound, [*marks, *self._open(used)])
        squares = {name: loading**2 for name, loading in row.loadings.items()}
        squares[f"limit/{used.fan}"] = row.own**2
        unsure = Uncertainty(row.variance, squares, used.spreads, self._unit(used, used.spreads))
        return SoundCase(candidate, self._kept(candidate, used, inputs, unsure, {}))

    # --- at full setting, a speed, a duty or a voltage

    def _at_setting(self, fans: list[str]) -> tuple[list[SoundCase], list[Excluded]]:
        used: dict[str, FanSound] = {}
        failed: list[Excluded] = []
        for fan in fans:
            try:
                used[fan] = self.sounds.fan(fan, self.obstacle)
            except StillroomError as error:
                failed.append(_without(self.sounds, fan, error))
        found, without = self._combined(used, {})
        return found, [*failed, *without]

    def _combined(
        self, used: Mapping[str, FanSound], at: Mapping[str, tuple[float, tuple[str, ...], str]]
    ) -> tuple[list[SoundCase], list[Excluded]]:
        """Fans from the values of their mountings; `at` gives speed, marks and limit of a fan where a limit sets it."""
        taken: dict[str, list[SoundValue]] = {}
        failed: list[Excluded] = []
        for fan, own in used.items():
            values, why = [], ""
            for each in own.heard:
                try:
                    values.append(
                        value_at_speed(each, self.measure.name, at[fan][0])
                        if fan in at
                        else sound_value(each, self.measure.name, self.condition)
                    )
                except StillroomError as error:
                    why = why or error.sentence()
            if values:
                taken[fan] = values
            else:
                failed.append(Excluded(fan, why, measured=True))
        spreads = self._spreads(taken)
        cases = [self._case(used[fan], values, spreads, at.get(fan)) for fan, values in taken.items()]
        return cases, failed

    def _spreads(self, taken: Mapping[str, list[SoundValue]]) -> Spreads:
        """Of levels at equal speed the lab's; else agreed, or of these values."""
        name = self._spread_name
        if name == SPREAD:
            return self.sounds.spreads
        own = [
            MountingValue(fan, each.result.sample, each.result.mounting, each.result.value)
            for fan, values in taken.items()
            for each in values
            if blocked_as(each.result.mounting) not in self.blocked
        ]
        spreads = pooled_of(self.sounds.book, name, self.measure, own)
        whole = sum(map(len, taken.values())) == len(own)
        if whole and not self.asked.only:
            book = agree_on(self.sounds.lab, self.sounds.book, name, spreads, len(taken))
            if book is not self.sounds.book:
                self.sounds.book = book
                return pooled_of(book, name, self.measure, ())
        return spreads

    def _heard_keys(self, used: FanSound) -> list[str | tuple[str, str]]:
        """What a fan's value hangs on of its sound."""
        return [self.sounds.comparable.key(each.node) for each in used.heard]

    def _bridges(self, used: FanSound) -> dict[str, str]:
        """{mounting: key of the bridge that carries it}."""
        return self.sounds.comparable.bridges(each.node for each in used.heard)

    @property
    def _spread_name(self) -> str:
        return spread_name(self.measure, self.condition)

    def _case(
        self,
        used: FanSound,
        values: list[SoundValue],
        spreads: Spreads,
        at: tuple[float, tuple[str, ...], str] | None,
    ) -> SoundCase:
        combined = combine_mountings(
            [each.result for each in values],
            spreads,
            identity=self._spread_name,
            scale=1.0 if self.measure.absolute else None,
        )
        gain = gain_of(self.condition) if self.measure.absolute else 0.0
        combined = replace(combined, value=combined.value + gain, trials=combined.trials + gain)
        marks = [*used.marks, *(mark for each in values for mark in each.marks), *(at[1] if at else ())]
        marks += ["a mounting could not be used"] if len(values) < len(used.heard) else []
        marks += [*system_marks(self.condition.system), *self._open(used)]
        inputs = {"limit": at[2]} if at else {}
        key = key_of("sound value", VERSION, self.measure.name, self.measure.version, self._told, inputs,
                     self._heard_keys(used), spread_told(spreads))  # fmt: skip
        candidate = Candidate(
            fan=used.fan,
            value=combined.value,
            trials=combined.trials,
            parts=combined.parts,
            how=_how(values, marks, modelled=gain != 0.0),
            samples=combined.samples,
            mountings=combined.mountings,
            key=key,
            marks=tuple(dict.fromkeys(marks)),
            bound=Bound.AT_MOST if any(each.is_bound for each in values) else Bound.NONE,
        )
        unsure = Uncertainty.of(combined, spreads, self._unit(used, spreads))
        each = {value.result.mounting: value.result.value for value in values}
        return SoundCase(candidate, self._kept(candidate, used, inputs, unsure, each))

    # --- kept

    def _open(self, used: FanSound) -> list[str]:
        """Open findings of a fan's sound, and days on which nothing checked the room."""
        names = [each.node.blocked_as for each in used.heard]
        unchecked = self.sounds.unchecked(self.blocked)
        marks = ["open finding"] if any(each in self.blocked for each in names) else []
        return marks + list(dict.fromkeys(unchecked[each] for each in names if each in unchecked))

    @property
    def _told(self) -> list[object]:
        asked = self.condition
        return [asked.speed, asked.duty, asked.volts, asked.noise, asked.sone, asked.for_flow, asked.system,
                self.obstacle, self.sounds.book.settings.sound.rule, *self._told_of_heat]  # fmt: skip

    @property
    def _told_of_heat(self) -> list[object]:
        return (
            [] if self.condition.for_heat is None else ["heat", self.condition.for_heat, self.condition.rig]
        )

    def _kept(
        self,
        candidate: Candidate,
        used: FanSound,
        inputs: Mapping[str, Any],
        uncertainty: Uncertainty,
        each: Mapping[str, float],
    ) -> Result:
        return kept_value(
            candidate,
            Question(self.measure, self.condition),
            uncertainty,
            inputs={
                "bridges": self._bridges(used),
                "sounds": {one.node.subject: one.node.key for one in used.heard},
                **inputs,
            },
            each=each,
            distance=used.geometry.distance,
        )

    def _unit(self, used: FanSound, spreads: Spreads) -> str:
        """The unit of spreads: those of levels at equal speed lead to shares of other measures too."""
        return "dB" if self.measure.absolute or spreads is used.spreads else ""


def _how(values: list[SoundValue], marks: Iterable[str], *, modelled: bool) -> How:
    if modelled:
        return How.MODELLED
    between = any(each.startswith("interpolated") for each in marks)
    return How.MEASURED if all(each.was_dwelt for each in values) and not between else How.INTERPOLATED


def _without(sounds: Sounds, fan: str, error: StillroomError) -> Excluded:
    """A fan without a value; measured where it has sound that can be compared."""
    return Excluded(fan, error.found or error.sentence(), measured=fan in sounds.comparable.nodes)
