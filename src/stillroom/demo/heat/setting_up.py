"""The settings of a fan's heat run, from the set list: what each level [dBA] leaves it, as a duty or a voltage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.demo.draws import Draws
from stillroom.demo.fan import SUPPLY, Control, Fan, Obstacle, Setting
from stillroom.demo.heat.plan import LIMITS, MODEL
from stillroom.demo.sound.truth import AT_LIMIT, NOT_SO_QUIET, Blowing, LimitTruth, limit_truths
from stillroom.demo.sound.voice import Voice
from stillroom.demo.sound.voices import sample_voice, voice_of

SET_LIST_SD = 0.004
"""How far the set list's speed is from the true one, as a share."""


@dataclass(frozen=True)
class Chosen:
    """One setting of a run: for which level [dBA], None where the fan tops out below it."""

    setting: Setting
    noise: float | None


@dataclass
class SetList:
    """What each fan is set to, and the true limits that it rests on.

    Parameters
    ----------
    models : by name. samples : by (fan, sample). radiator : one tile, by the name in the tables.
    """

    seed: int
    models: Mapping[str, Fan]
    samples: Mapping[tuple[str, str], Fan]
    radiator: Obstacle
    name: str
    _known: dict[tuple[str, str], tuple[LimitTruth, ...]] = field(default_factory=dict)

    def limits(self, fan: str, sample: str = MODEL) -> tuple[LimitTruth, ...]:
        """A model, or one of its samples, at each of `LIMITS` with the radiator mounted."""
        if (fan, sample) not in self._known:
            blowing = Blowing(self._fan(fan, sample), self._voice(fan, sample), self.radiator)
            self._known[fan, sample] = tuple(limit_truths(blowing, sample, self.name, LIMITS))
        return self._known[fan, sample]

    def settings(self, fan: str, limits: Sequence[float]) -> tuple[Chosen, ...]:
        """The settings of a run, by the set list of the fan's first sample; full speed where `limits` is empty."""
        full = full_setting(self.models[fan])
        if not limits:
            return (Chosen(full, None),)
        found: list[Chosen] = []
        for each in self.limits(fan, "s1"):
            if each.limit not in limits or each.reached == NOT_SO_QUIET:
                continue
            if each.reached == AT_LIMIT:
                found.append(Chosen(self._setting(fan, each), each.limit))
            elif Chosen(full, None) not in found:
                found.append(Chosen(full, None))
        return tuple(found)

    def _setting(self, fan: str, at: LimitTruth) -> Setting:
        known = self._fan(fan, "s1")
        speed = at.speed * Draws(self.seed, f"set list {fan} {at.limit:g}").near_one(SET_LIST_SD)
        opening = Blowing(known, self._voice(fan, "s1"), self.radiator).opening(speed)
        free = speed / known.loaded_speed(1.0, opening)
        if known.control is Control.VOLTS:
            volts = known.dead_volts + free / known.full_speed * (SUPPLY - known.dead_volts)
            return Setting(round(min(volts, SUPPLY), 1), Control.VOLTS)
        share = max(0.0, (free - known.lowest_speed) / (known.full_speed - known.lowest_speed))
        duty = known.dead_duty + (1 - known.dead_duty) * share ** (1 / known.duty_power)
        return Setting(float(round(min(100 * duty, 100.0))))

    def _fan(self, fan: str, sample: str) -> Fan:
        return self.models[fan] if sample == MODEL else self.samples[fan, sample]

    def _voice(self, fan: str, sample: str) -> Voice:
        voice = voice_of(self.seed, self.models[fan])
        return voice if sample == MODEL else sample_voice(self.seed, voice, fan, sample)


def full_setting(fan: Fan) -> Setting:
    """Full speed: 100 % duty, or 12 V."""
    return Setting(SUPPLY, Control.VOLTS) if fan.control is Control.VOLTS else Setting(100.0)
