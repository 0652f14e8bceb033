"""Rules 6 to 9: the background, and the microphone's own noise."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np

from stillroom.core.standards import iec_61260_1_2014, iso_3744_2010
from stillroom.core.standards.iec_61672_1_2013 import a_weighting
from stillroom.quality.finding import Finding
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts
from stillroom.quality.sound.saying import (
    BLOCKS,
    MARKS,
    about_beside,
    about_recording,
    about_sound,
    settings_of,
)
from stillroom.records.limits import Limits

BANDS_HOLD = 0.1
"""Share of the A-weighted sound that bands near the background must hold to be told (common practice)."""

FAR_BELOW = 3.0
"""A recording that is so much quieter than the room was not made as the room's was [dB]."""

LISTEN = "switch the fan off, stand still and listen; record the background again now"


def backgrounds(fan: HeardFan) -> Iterator[Finding]:
    """What speaks against the backgrounds of a fan's recordings, and what they hide."""
    for mounting in fan.mountings:
        changed = list(_changed(mounting, fan.limits))
        yield from changed
        yield from _drowned(mounting)
        if any(each.severity is BLOCKS for each in changed):
            continue  # what is near a background that rose is told by that
        yield from _near(mounting, fan.limits)
        yield from _self_noise(mounting)
        yield from _bands(mounting, fan.limits)


def _sides(mounting: HeardMounting) -> dict[tuple[tuple[str, ...], tuple[str, ...]], list[RecordingFacts]]:
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[RecordingFacts]] = defaultdict(list)
    for each in mounting.recordings:
        sides = mounting.rooms.get(each.run, ((), ()))
        if each.is_used and (sides[0] or sides[1]):
            groups[sides].append(each)
    return groups


def _changed(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 9."""
    for (before, after), runs in _sides(mounting).items():
        known = [each for each in runs if each.before is not None and each.after is not None]
        last = mounting.beside((after or before)[0])
        if last is None:
            continue
        if not known:
            side, missing = ("before", "after") if before else ("after", "before")
            yield about_beside(
                9, last, [mounting], f"the background was recorded {side}, and not {missing}",
                "before and after each session", severity=MARKS, cause="a background that rose goes unseen",
                test=LISTEN, common="the background on one side only",
            )  # fmt: skip
            continue
        change = float(np.median([(each.after or 0.0) - (each.before or 0.0) for each in known]))
        near = [
            each.delta for each in known if each.delta is not None and each.delta < limits.background_near
        ]
        limit = max(limits.background_change_near if near else limits.background_change,
                    2.0 * _scatter(mounting, (*before, *after)))  # fmt: skip
        if abs(change) <= limit:
            continue
        how = "rose" if change > 0 else "fell"
        yield about_beside(
            9, last, [mounting],
            f"the background {how} by {abs(change):.1f} dB from before the session to after it",
            f"within {limits.background_change:g} dB, {limits.background_change_near:g} dB where the fan is less than"
            f" {limits.background_near:g} dB above it",
            cause=f"the background {how} within the session: ventilation, traffic, or something that was switched "
            + ("on" if change > 0 else "off"),
            test=LISTEN, common="the background before and after differ",
        )  # fmt: skip


def _scatter(mounting: HeardMounting, runs: Sequence[str]) -> float:
    """Standard uncertainty of a difference of backgrounds by how their seconds scatter [dB]."""
    found = [mounting.beside(each) for each in runs]
    squares = [each.scatter**2 / max(each.duration, 1.0) for each in found
               if each is not None and each.scatter is not None and each.duration is not None]  # fmt: skip
    return math.sqrt(sum(squares))


def _drowned(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 6: recordings in which the fan is no louder than the room."""
    for run in mounting.recordings:
        if run.is_silent or run.level is None or (run.corrected is not None and not run.is_drowned):
            continue
        rooms = [mounting.beside(each) for side in mounting.rooms.get(run.run, ((), ())) for each in side]
        levels = [each.level for each in rooms if each is not None and each.level is not None]
        levels += [each for each in (run.before, run.after) if not levels and each is not None]
        if not levels or (run.level > max(levels) and not run.is_drowned):
            continue
        quieter = max(levels) - run.level
        cause = "another channel, microphone or gain than the background's" if quieter > FAR_BELOW else (
            "the background was louder than the fan: an upper bound at most"
        )  # fmt: skip
        yield about_recording(
            6, run, mounting,
            f"{run.words} of {mounting.name}: {run.level:.1f} dBA, the background up to {max(levels):.1f} dBA",
            "a fan 6 dB above the background at least", severity=BLOCKS if run.failed else MARKS, cause=cause,
            test="look at the channel and the gain" if quieter > FAR_BELOW else LISTEN,
            common="the background is louder than the fan",
        )  # fmt: skip


def _near(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 6: bounds, and levels that lean on a correction; or no background."""
    bare = [each for each in mounting.used if not each.has_background]
    if bare and len(bare) == len(mounting.used):
        yield about_sound(
            6, mounting, f"no background was recorded for {mounting.name}", "one before and one after",
            cause="what of a level is the room's nobody knows", test=LISTEN, common="no background",
        )  # fmt: skip
        return
    with_delta = [
        (each, each.delta)
        for each in mounting.dwells
        if each.delta is not None and each.rejected <= limits.rejected and not each.is_drowned
    ]
    bounds = [each for each, delta in with_delta if delta < iso_3744_2010.VALUE_FROM]
    near = [each for each, delta in with_delta if iso_3744_2010.VALUE_FROM <= delta < limits.background_near]
    if not bounds and not near:
        return
    words = (
        [f"{settings_of(bounds)}: less than {iso_3744_2010.VALUE_FROM:g} dB above it, upper bounds only"]
        if bounds
        else []
    )
    words += [f"{settings_of(near)}: less than {limits.background_near:g} dB above it"] if near else []
    yield about_sound(
        6, mounting, f"{mounting.name} lies near its background ({'; '.join(words)})",
        f"{limits.background_near:g} dB above the background",
        cause="a quiet fan, or a room that isn't quiet enough for it", place=(bounds or near)[0].place,
        test="measure at night, or nearer and say so", common="near the background",
    )  # fmt: skip


def _self_noise(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 8: bounds that the background doesn't make."""
    runs = [each for each in mounting.dwells
            if each.is_bound and (each.delta is None or each.delta >= iso_3744_2010.VALUE_FROM)]  # fmt: skip
    if runs:
        yield about_sound(
            8, mounting, f"{settings_of(runs)} of {mounting.name}: less than 6 dB above the microphone's own noise",
            "6 dB above the self-noise: else an upper bound only", cause="a microphone that is too noisy for this fan",
            test="record with the microphone in a closed box: that is its own noise", common="near the self-noise",
        )  # fmt: skip


def _bands(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 7: one finding for all bands of a mounting."""
    weights = a_weighting(iec_61260_1_2014.midbands())
    worst, most = 0.0, None
    for run in mounting.dwells:
        if run.bands is None or run.bands_bound is None or run.is_bound or run.rejected > limits.rejected:
            continue
        power = np.array([0.0 if each is None else 10.0 ** (0.1 * (each + weight))
                          for each, weight in zip(run.bands, weights, strict=True)])  # fmt: skip
        share = float(power[np.array(run.bands_bound)].sum() / power.sum())
        worst, most = max((worst, most), (share, run), key=lambda each: each[0])
    if most is not None and most.bands_bound is not None and worst > BANDS_HOLD:
        yield about_sound(
            7, mounting,
            f"{sum(most.bands_bound)} one-third octaves of {most.words} of {mounting.name} lie less than 6 dB above"
            f" the background and hold up to {100 * worst:.0f} % of its sound",
            "6 dB above the background in each band that is used", cause="they are left out of loudness and tones",
            test="measure when the room is quieter", place=most.place, common="bands near the background",
        )  # fmt: skip
