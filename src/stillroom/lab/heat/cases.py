"""How the fans of a comparison by heat get their values: at a setting, at a noise limit, or the speed for a rise."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

from stillroom.compare.candidates import Bound, Candidate, Excluded, How
from stillroom.core.combine import FanValue, MountingResult, VarianceParts, combine_mountings
from stillroom.core.heat.heat_mounting import SOME_FORECAST
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.spread import MountingValue, Spreads
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab import versions
from stillroom.lab.field import Asked
from stillroom.lab.heat.carrying import carried
from stillroom.lab.heat.comparable import HeatField, heat_field, rig_asked
from stillroom.lab.heat.full_speed import FullSpeed, full_speed_behind
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.needed import speed_for_heat
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.heat.places import FORECAST, ends_below_full, full_speed
from stillroom.lab.heat.powers import combine_powers
from stillroom.lab.heat.valuing import HeatValue, Warmed, heat_value
from stillroom.lab.heat.worth import kelvin_per_decibel, parts_with_sound
from stillroom.lab.kept_value import Uncertainty, condition_told, kept_value, spread_told
from stillroom.lab.question import Question, spread_name
from stillroom.lab.sound.fan_sound import FREE_AIR, Sounds
from stillroom.lab.sound.kept_limits import load_row_speeds, own_source
from stillroom.lab.sound.limits import kept_limit
from stillroom.lab.sound.nodes import blocked_as as sound_blocked_as
from stillroom.lab.spreads import agree_on, pooled_of
from stillroom.lab.valuing import FanCase
from stillroom.measures.heat import HEAT, HEAT_POWER
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.results import Result

VERSION = 3
"""Raised when the same heat would give another value."""

NOT_USED = "a mounting could not be used"


class HeatCases:
    """How the fans of one comparison by heat get their values.

    Parameters
    ----------
    sounds : of the lab. asked : what is asked: a measure of heat, or the speed needed for a temperature rise.
    blocked : {mounting: rule} of open findings that block.

    `per_decibel` holds, once the cases are there, by how much a fan's rise falls for a decibel more at its limit
    [K/dB], None where no slope tells it.

    Raises
    ------
    UnknownThing, NotPossible : as of `rig_asked`.
    """

    def __init__(self, sounds: Sounds, asked: Asked, blocked: Mapping[str, str]) -> None:
        self.sounds, self.asked, self.blocked = sounds, asked, blocked
        self.measure, self.condition = asked.measure, asked.condition
        self.rig = rig_asked(sounds.graph, asked.condition.rig)
        self.limits: dict[str, Result] = {}
        self.used: dict[str, tuple[Warmed, ...]] = {}
        self.not_used: dict[str, list[tuple[str, str]]] = {}
        self.per_decibel: dict[str, float | None] = {}
        self.full: dict[str, FullSpeed] = {}

    @cached_property
    def field(self) -> HeatField:
        """The heat runs that can be compared."""
        return heat_field(self.sounds.lab, self.sounds.book, self.sounds.graph, self.rig, self.blocked)

    @cached_property
    def obstacle(self) -> str:
        """The name under which sound is sought that was measured with the rig's radiator mounted."""
        radiator = self.field.rig.radiator
        heard = sorted({each.obstacle for each in self.sounds.graph.sounding() if each.obstacle})
        named = [each for each in heard if radiator and radiator in (each, versions.bare(each))]
        return named[-1] if named else radiator

    def cases(self, fans: Sequence[str]) -> tuple[list[FanCase], list[Excluded]]:
        """The fans with a value, and why others have none."""
        taken: dict[str, list[HeatValue]] = {}
        failed: list[Excluded] = []
        for fan in fans:
            try:
                taken[fan] = self._values(fan)
            except StillroomError as error:
                why = error.found or error.sentence()
                failed.append(Excluded(fan, why, measured=fan in self.field.nodes))
        spreads = self._spreads(taken)
        return [self._case(fan, values, spreads) for fan, values in taken.items()], failed

    def _values(self, fan: str) -> list[HeatValue]:
        """The values of a fan's mountings, those that have one.

        Raises
        ------
        StillroomError : it has none, with why.
        """
        nodes = self.field.nodes.get(fan, ())
        if not nodes:
            raise NotPossible("heat", found=self.field.reason(fan))
        warmed, why = self.warmed(nodes)
        limit = self._limit(fan) if self.condition.is_limited else None
        full = self._full(fan, warmed)
        values: list[HeatValue] = []
        used: list[Warmed] = []
        for each in warmed:
            try:
                values.append(self._value(each, limit, full))
                used.append(each)
            except StillroomError as error:
                why.append((each.node.subject, _why(error)))
        self.not_used[fan] = why
        if not values:
            raise NotPossible("heat", found=why[0][1])
        self.used[fan] = tuple(used)
        return values

    def _value(self, warmed: Warmed, limit: Result | None, full: RowSpeeds | None) -> HeatValue:
        if self.condition.for_heat is not None:
            return speed_for_heat(warmed, self.condition.for_heat)
        rows: RowSpeeds | None = None
        if limit is not None:
            rows = load_row_speeds(
                self.sounds.lab.path, limit, greatest_is_full=full_speed(warmed.heat) is not None
            )
        return heat_value(warmed, self.measure.name, self.condition, rows, full)

    def _full(self, fan: str, warmed: Sequence[Warmed]) -> RowSpeeds | None:
        """A fan's full speed by its airflow, where that is asked and none of its mountings was run at it; else None."""
        asked = self.condition
        is_set = asked.is_limited or any(each is not None for each in (asked.speed, asked.duty, asked.volts))
        if is_set or not warmed or not all(ends_below_full(each.heat) for each in warmed):
            return None
        node, radiator = warmed[0].node, self.field.rig.radiator
        try:
            self.full[fan] = full_speed_behind(self.sounds, fan, radiator, node.trials)
        except StillroomError:
            return None
        return self.full[fan].speeds

    def warmed(self, nodes: Sequence[HeatNode]) -> tuple[list[Warmed], list[tuple[str, str]]]:
        """The mountings that could be reduced, and why others could not."""
        lab = self.sounds.lab
        warmed: list[Warmed] = []
        why: list[tuple[str, str]] = []
        for node in nodes:
            result = results.get(lab.database, node.key)
            if result is None or result.failed:
                why.append((node.subject, result.failed if result else "not reduced yet"))
            else:
                heat, shift = load_heat(lab.path, result), self.field.shifts.over.get(node.subject)
                warmed.append(Warmed(node, carried(heat, shift) if shift else heat))
        return warmed, why

    def _limit(self, fan: str) -> Result:
        """The kept noise limit of a fan.

        Raises
        ------
        StillroomError : no sound that can be compared, or it is too loud.
        """
        kept = kept_limit(self.sounds, fan, self.obstacle, self.condition)
        if kept.failed:
            raise NotPossible("noise limit", found=kept.failed)
        self.limits[fan] = kept
        return kept

    # --- spreads

    @property
    def spread_name(self) -> str:
        """Under which the spread of such values is agreed."""
        return spread_name(self.measure, self.condition)

    def _spreads(self, taken: Mapping[str, list[HeatValue]]) -> Spreads:
        """Agreed, else of these values; agreed upon now where the whole field is there and nothing is blocked."""
        every = [each.result for values in taken.values() for each in values]
        sound = [each for each in every if f"heat of {each.mounting}" not in self.blocked]
        own = [
            MountingValue(each.sample.partition("/")[0], each.sample, each.mounting, each.value)
            for each in sound
        ]
        sounds, name = self.sounds, self.spread_name
        spreads = pooled_of(sounds.book, name, self.measure, own)
        if len(sound) == len(every) and not self.asked.only:
            book = agree_on(sounds.lab, sounds.book, name, spreads, len(taken))
            if book is not sounds.book:
                sounds.book = book
                return pooled_of(book, name, self.measure, ())
        return spreads

    # --- a fan

    def _case(self, fan: str, values: Sequence[HeatValue], spreads: Spreads) -> FanCase:
        combined = self._combined([each.result for each in values], spreads)
        used, limit = self.used[fan], self.limits.get(fan)
        key = key_of("heat value", VERSION, self.measure.name, self.measure.version, self._told,
                     limit.key if limit else "", [each.node.key for each in used],
                     sorted(self._bridges(used).items()), spread_told(spreads), self._curves(fan))  # fmt: skip
        candidate = Candidate(
            fan=fan,
            value=combined.value,
            trials=combined.trials,
            parts=self._parts(fan, combined, limit),
            how=_how(values),
            samples=combined.samples,
            mountings=combined.mountings,
            key=key,
            marks=tuple(dict.fromkeys(self._marks(fan, values))),
            bound=self._bound(values, limit),
        )
        return FanCase(candidate, combined, self._kept(candidate, combined, values, spreads))

    def _combined(self, results: Sequence[MountingResult], spreads: Spreads) -> FanValue:
        """A fan's value from its mountings; a power's on the scale of its logarithm."""
        if self.measure.name == HEAT_POWER:
            return combine_powers(results, spreads, identity=self.spread_name)
        return combine_mountings(
            results, spreads, identity=self.spread_name, scale=1.0 if self.measure.absolute else None
        )

    def _parts(self, fan: str, combined: FanValue, limit: Result | None) -> VarianceParts:
        """The variance by kind, so that "more mountings" can be reckoned; at a limit those are heard as well."""
        if limit is None:
            return combined.parts
        levels, speed = self.sounds.fan(fan, self.obstacle).levels, float(limit.body["speed"])
        self.per_decibel[fan] = kelvin_per_decibel(self.used[fan], levels, speed)
        return parts_with_sound(combined.parts, levels, speed, own_source(fan))

    def _marks(self, fan: str, values: Sequence[HeatValue]) -> list[str]:
        """What must be said beside a fan's number."""
        limit = self.limits.get(fan)
        marks = [*self.field.marks.get(fan, ()), *_told_once(mark for each in values for mark in each.marks)]
        if limit is not None:
            marks += limit.body["marks"]
            marks += [FREE_AIR] if not limit.body["obstacle"] else []
            marks += self._open([sound_blocked_as(each) for each in limit.inputs.get("sounds", {})])
        marks += [NOT_USED] if self.not_used[fan] else []
        marks += self._open([each.node.blocked_as for each in self.used[fan]])
        if any(not log.run.placed.registered for each in self.used[fan] for log in each.node.logs
               if log.run.names_fan):  # fmt: skip
            marks.append("sample not registered")
        return marks

    def _open(self, names: Sequence[str]) -> list[str]:
        """Open findings of mountings by the names under which they are blocked, and days that nothing checked."""
        unchecked = self.sounds.unchecked(self.blocked)
        marks = ["open finding"] if any(each in self.blocked for each in names) else []
        return marks + [unchecked[each] for each in names if each in unchecked]

    def _bound(self, values: Sequence[HeatValue], limit: Result | None) -> Bound:
        """Of a fan that may turn faster than was found: it rises at most so much, and takes at least so much power."""
        if limit is None or not (limit.body["at_least"] or any(each.is_bound for each in values)):
            return Bound.NONE
        return Bound.AT_MOST if self.measure.name == HEAT else Bound.AT_LEAST

    # --- kept

    def _curves(self, fan: str) -> list[dict[str, str]]:
        """{mounting: key} and {obstacle: key} of the airflow on which a fan's value rests; [] for none."""
        full = self.full.get(fan)
        return [full.curves, full.obstacles] if full else []

    def _bridges(self, used: Sequence[Warmed]) -> dict[str, str]:
        """{mounting: key of its bridge} of the mountings used that a bridge brings over."""
        keys = self.field.shifts.keys
        return {each.node.subject: keys[each.node.subject] for each in used if each.node.subject in keys}

    @property
    def _told(self) -> list[object]:
        asked = self.condition
        return [asked.speed, asked.duty, asked.volts, asked.noise, asked.sone, asked.for_heat, self.rig,
                self.obstacle, self.sounds.book.settings.sound.rule if asked.is_limited else ""]  # fmt: skip

    def _kept(
        self, candidate: Candidate, combined: FanValue, values: Sequence[HeatValue], spreads: Spreads
    ) -> Result:
        fan = candidate.fan
        limit = self.limits.get(fan)
        curves, obstacles = self._curves(fan) or ({}, {})
        inputs: dict[str, Mapping[str, str] | str] = {
            "values": {**curves, **obstacles},
            "curves": curves,
            "obstacle": obstacles,
            "bridges": self._bridges(self.used[fan]),
            "heats": {each.node.subject: each.node.key for each in self.used[fan]},
            **({"limit": limit.key} if limit else {}),
        }
        question = Question(self.measure, self.condition)
        rig = self.field.rig
        unit = self.measure.spread_unit if self.measure.absolute else ""
        return kept_value(
            candidate,
            question,
            Uncertainty.of(combined, spreads, unit),
            inputs=inputs,
            each={each.result.mounting: each.result.value for each in values},
            condition=condition_told(question) | {"rig": self.rig, "nominal": rig.nominal, "fans": rig.fans},
            speeds={each.result.mounting: each.speed for each in values},
        )


def _why(error: StillroomError) -> str:
    """Why a mounting has no value and what it would need, without what was asked: that is the same for all."""
    if not error.found:
        return error.sentence()
    return f"{error.found}; expected {error.expected}" if error.expected else error.found


def _told_once(marks: Iterable[str]) -> list[str]:
    """Marks of a fan's mountings; the steps that were not waited for are spoken of where a value rests on them."""
    told = list(dict.fromkeys(each for each in marks if each != SOME_FORECAST))
    beyond = [each for each in told if each.startswith("modelled: heat measured")]
    cut = sorted((each for each in told if each.startswith(FORECAST)), key=_to_come)
    return [each for each in told if each not in (*beyond[1:], *cut[:-1])]


def _to_come(mark: str) -> float:
    """What a mark of a forecast says was still to come [K]: of several mountings the one with most is told."""
    told = re.search(r"(\d+\.\d+) K", mark)
    return float(told[1]) if told else 0.0


def _how(values: Sequence[HeatValue]) -> How:
    """The way of the value that is known least directly."""
    order = (How.MODELLED, How.INTERPOLATED, How.MEASURED)
    return next(each for each in order if any(value.how is each for value in values))
