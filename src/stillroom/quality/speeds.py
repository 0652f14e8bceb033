"""Rules that hold the speeds of a fan's mountings against each other and against the box."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stillroom.quality.causes import Cause, cause_of
from stillroom.quality.facts import FanFacts, MountingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity

SAME_SPEED, OTHER_SPEED = 0.004, 0.012
"""Two mountings show one sample's speeds within the first, another's beyond the second, relative."""

SAMPLES_APART = 0.06
"""Two samples of a fan turn alike at one setting within this (2 √2 times 2 %), relative."""

ALIKE = 0.15
"""Beyond this two speeds at one setting can't be two samples of one fan, relative."""


REPLICATES = 0.01
"""Speeds of one sample at one setting differ by less, relative."""

FULL_DUTY, FULL_VOLTS = 1.0, 12.0


def ratios(one: MountingFacts, other: MountingFacts) -> list[float]:
    """Speed of one over speed of the other at each setting that both have."""
    common = sorted(one.speeds.keys() & other.speeds.keys())
    return [one.speeds[each] / other.speeds[each] for each in common]


def steady_ratio(one: MountingFacts, other: MountingFacts) -> float | None:
    """The one ratio of their speeds at all common settings; None where there is none, or no one ratio."""
    found = ratios(one, other)
    if not found:
        return None
    middle = float(np.median(found))
    return middle if all(abs(each / middle - 1.0) < 0.03 for each in found) else None


def box_ratio(mounting: MountingFacts, fan: FanFacts) -> float | None:
    """Speed at full setting over the box's; None where one of them is not known."""
    box = fan.record.full_speed if fan.record else None
    full = next((mounting.speeds[each] for each in (FULL_DUTY, FULL_VOLTS) if each in mounting.speeds), None)
    return full / box if full and box else None


def wrong_multiples(group: Sequence[MountingFacts], fan: FanFacts) -> dict[str, Finding]:
    """Rule 20: mountings whose speeds are a multiple of what they should be, {mounting: finding}.

    Of two that contradict each other the box says which is wrong; where it doesn't, the majority; where there is
    none, both are doubtful.
    """
    found: dict[str, Finding] = {}
    for mounting in group:
        others = [each for each in group if each is not mounting and each.speeds]
        alike = [each for each in others if abs(math.log(steady_ratio(mounting, each) or 9.0)) < ALIKE]
        against = [(each, cause) for each in others if (cause := _multiple(mounting, each))]
        box = box_ratio(mounting, fan)
        by_box = cause_of("speed", box, SAMPLES_APART) if box else None
        if against:
            other, cause = against[0]
            for_others = _by_box(box, box_ratio(other, fan)) or (len(against) - 1 - len(alike))
            if for_others >= 0:
                ratio = steady_ratio(mounting, other)
                words = (
                    f"speeds of {mounting.name} are {ratio:.3f} times those of {other.name} at each setting"
                )
                found[mounting.name] = _multiple_finding(mounting, cause, words, doubtful=for_others == 0)
        elif by_box and box:
            words = f"full speed of {mounting.name} is {box:.3f} times what the box says"
            found[mounting.name] = _multiple_finding(mounting, by_box, words, doubtful=False)
    return found


def _multiple(one: MountingFacts, other: MountingFacts) -> Cause | None:
    """The multiple by which speeds of `one` stand apart from those of `other`."""
    ratio = steady_ratio(one, other)
    if ratio is None:
        return None
    return cause_of("speed", ratio, 0.01 if one.sample == other.sample else SAMPLES_APART)


def _by_box(mine: float | None, theirs: float | None) -> int:
    """1 where the box speaks against mine, −1 where it speaks for mine, 0 where it doesn't decide."""
    if mine is None or theirs is None:
        return 0
    away, their_away = abs(math.log(mine)), abs(math.log(theirs))
    return 0 if abs(away - their_away) < 0.1 else (1 if away > their_away else -1)


def _multiple_finding(mounting: MountingFacts, cause: Cause, found: str, *, doubtful: bool) -> Finding:
    return Finding(
        20,
        mounting.subject,
        mounting.judged,
        Severity.BLOCKS,
        found,
        "the same within 1 % (one sample) or some per cent (two samples)",
        cause.words + (" (or the other mounting's is wrong: nothing here decides)" if doubtful else ""),
        cause.test,
        mounting.runs[0].file,
        (mounting.fan,),
        (mounting.name,),
        common=cause.words,
    )


def mixed_up(group: Sequence[MountingFacts]) -> dict[str, Finding]:
    """Rule 1: mountings that turn as another sample does and not as their own, {mounting: finding}."""
    mixed: list[_MixUp] = []
    for mounting in group:
        own = [each for each in group if each.sample == mounting.sample and each is not mounting]
        own_apart = [_apart(mounting, each) for each in own]
        if not own or any(each is None or each <= OTHER_SPEED for each in own_apart):
            continue
        twins = [each for each in group if each.sample != mounting.sample and _is_twin(mounting, each)]
        if twins:
            mixed.append(_MixUp(mounting, own, twins[0]))
    return {each.mounting.name: each.finding(_exchanged(each, mixed)) for each in mixed}


@dataclass(frozen=True)
class _MixUp:
    """A mounting that turns as another sample does: its sample's other mountings, and one that it equals."""

    mounting: MountingFacts
    own: Sequence[MountingFacts]
    twin: MountingFacts

    @property
    def samples(self) -> frozenset[str]:
        """Its own sample and the one that it equals."""
        return frozenset((self.mounting.sample, self.twin.sample))

    def finding(self, exchanged: str) -> Finding:
        """Its finding; where two samples look exchanged, told in the same words for all mountings concerned."""
        alone = _mix_up_finding(self.mounting, self.own, self.twin)
        if not exchanged:
            return alone
        return replace(alone, cause=exchanged, common=f"{self.mounting.fan}: {exchanged}", test=(
            "read the numbers on both fans; a third mounting of either sample decides"))  # fmt: skip


def _exchanged(one: _MixUp, mixed: Sequence[_MixUp]) -> str:
    """That two samples look exchanged with each other, and in which mountings, in words; "" where only one is mixed up.

    With two mountings of each, both pairs contradict each other alike: the later is named.
    """
    pair = [each for each in mixed if each.samples == one.samples]
    latest = {}
    for each in sorted(pair, key=lambda each: (each.mounting.date, each.mounting.name)):
        latest[each.mounting.sample] = each.mounting
    if len(latest) < 2:
        return ""
    first, second = (latest[name] for name in sorted(latest))
    names = [each.name.removeprefix(f"{each.fan}-{each.sample}-") for each in (first, second)]
    where = names[0] if names[0] == names[1] else f"{first.name} and {second.name}"
    return f"{first.sample} and {second.sample} look exchanged in {where}" + (
        " (or in the other mountings: nothing here decides)" if len(pair) > 2 else ""
    )


def _apart(one: MountingFacts, other: MountingFacts) -> float | None:
    """Median relative difference of their speeds over all common settings, at least two."""
    found = ratios(one, other)
    return abs(float(np.median(found)) - 1.0) if len(found) >= 2 else None


def _is_twin(one: MountingFacts, other: MountingFacts) -> bool:
    found = ratios(one, other)
    return len(found) >= 2 and all(abs(each - 1.0) < SAME_SPEED for each in found)


def _mix_up_finding(mounting: MountingFacts, own: Sequence[MountingFacts], twin: MountingFacts) -> Finding:
    apart = 100.0 * abs(float(np.median(ratios(mounting, own[0]))) - 1.0)
    close = 100.0 * max(abs(each - 1.0) for each in ratios(mounting, twin))
    return Finding(
        1,
        mounting.subject,
        mounting.judged,
        Severity.BLOCKS,
        f"speeds of {mounting.name} lie {apart:.1f} % from {own[0].name} of the same sample,"
        f" and within {close:.2f} % of {twin.name} at each setting",
        f"those of sample {mounting.sample}",
        f"{mounting.sample}'s curve equals {twin.sample}'s: {twin.sample} was mounted under the number of"
        f" {mounting.sample}",
        f"read the number on the fan that is (or was) on the rig; look at the photo of {mounting.name}",
        mounting.runs[0].file,
        (mounting.fan,),
        (mounting.name,),
    )


def replicate_speeds(group: Sequence[MountingFacts]) -> dict[str, Finding]:
    """Rule 41, speeds: mountings of one sample that turn unlike at the same setting, {mounting: finding}."""
    found: dict[str, Finding] = {}
    for mounting in group:
        own = [each for each in group if each.sample == mounting.sample and each is not mounting]
        apart = [(each, _apart(mounting, each)) for each in own]
        against = [(each, value) for each, value in apart if value is not None and value > REPLICATES]
        if not against or (len(own) > 1 and 2 * len(against) <= len(own)):
            continue  # of three, the one that differs from both others
        other, value = against[0]
        found[mounting.name] = Finding(
            41,
            mounting.subject,
            mounting.judged,
            Severity.BLOCKS,
            f"speeds of {mounting.name} and {other.name}, one sample, differ by {100 * value:.1f} % at the"
            " same settings",
            "within 1 %",
            "another duty or voltage than written down, another sample, or a bearing that runs in",
            "set full speed on both and read the optical tachometer; a third mounting decides",
            mounting.runs[0].file,
            (mounting.fan,),
            (mounting.name,),
        )
    return found
