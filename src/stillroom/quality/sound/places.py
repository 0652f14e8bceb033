"""Rules 12 to 15: where the microphone stood, who stood beside it, and what tones may be said of one position."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

from stillroom.quality.finding import Finding
from stillroom.quality.saying import about_fan, listed
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts
from stillroom.quality.sound.saying import BLOCKS, about_recording, about_sound, heard_key
from stillroom.records.limits import Limits

BY_HAND = re.compile(
    r"\bby hand\b|\bby eye\b|\bread off\b|hand[- ]?held|held in (the )?hand|(stood|standing|person) (beside|next to)",
    re.IGNORECASE,
)
"""Words of a note that say a person was near the meter."""

SLOPE = 53.0
"""How a fan's level goes with its speed [dB a decade] (common practice, 50 to 56)."""

FAR = 6.0
"""So far from the fan's other dwells a level isn't of the same microphone [dB] (common practice)."""


def moved(mounting: HeardMounting, limits: Limits) -> str:
    """How the microphone's place differs from the method's, in words, or ""."""
    own, method = mounting.geometry, mounting.method
    if own.distance is not None and method.distance is not None:
        off = own.distance - method.distance
        if abs(off) > limits.microphone_distance * (1.0 + 1e-9):
            return f"the microphone stood at {own.distance:g} m, the method says {method.distance:g} m"
    if own.angle is not None and method.angle is not None:
        off = math.degrees(own.angle - method.angle)
        if abs(off) > limits.microphone_angle * (1.0 + 1e-9):
            return (
                f"the microphone stood at {math.degrees(own.angle):.0f}°, the method says"
                f" {math.degrees(method.angle):.0f}°"
            )
    return ""


def places(fan: HeardFan) -> Iterator[Finding]:
    """What speaks against the microphone's place, and what must be said of tones."""
    for mounting in fan.mountings:
        yield from _moved(mounting, fan.limits)
        yield from _other_microphone(mounting)
        yield from _by_hand(mounting)
        yield from _below_cut_off(mounting)
    yield from _untold(fan)
    yield from _single_position(fan)


def _moved(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    words = moved(mounting, limits)
    if words:
        yield about_sound(
            12, mounting, f"{mounting.name}: {words}",
            f"within {100 * limits.microphone_distance:g} cm and {limits.microphone_angle:g}° of the method's place",
            severity=BLOCKS, cause="the microphone was moved, and not put back to its distance and angle",
            test="measure from the fan's middle to the microphone's tip", common="the microphone was moved",
        )  # fmt: skip


def _untold(fan: HeardFan) -> Iterator[Finding]:
    bare = [each.name for each in fan.mountings if each.geometry.distance is None and each.used]
    if bare:
        yield about_fan(
            12, fan.name, heard_key(fan), f"nobody told the microphone's distance of {listed(bare)}",
            "the distance from the fan's middle", cause="a level without its distance means nothing to others",
            test="write the distance into the rig's file, or --as distance='0.5 m'", common="distance not told",
        )  # fmt: skip


def _other_microphone(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 12: a dwell whose level and tones don't belong to the others."""
    dwells = [
        each
        for each in mounting.dwells
        if each.speed is not None and each.is_recording and not each.transients
    ]
    if len(dwells) < 3:
        return
    for run in dwells:
        others = [each for each in dwells if each is not run]
        off = _off(run, others)
        if abs(off) > FAR and not _turns(run) and sum(map(_turns, others)) >= len(others) / 2.0:
            yield about_recording(
                12, run, mounting,
                f"{run.words} of {mounting.name} lies {off:+.0f} dB off the fan's other dwells and has none of their"
                " tones",
                f"within {FAR:g} dB at {SLOPE:g} dB a decade of speed",
                cause="another channel or another microphone was read",
                test="tap on the microphone and see which channel moves; tell it with --as channel=2",
                common="another channel or microphone",
            )  # fmt: skip


def _turns(run: RecordingFacts) -> bool:
    return any(each.turns for each in run.tones)


def _off(run: RecordingFacts, others: Sequence[RecordingFacts]) -> float:
    """How far a dwell's level lies from what the others let expect: the least of them [dB]."""
    speed = run.speed.used if run.speed else 1.0
    offs = [(run.corrected or 0.0) - (each.corrected or 0.0) - SLOPE * math.log10(speed / each.speed.used)
            for each in others if each.speed is not None]  # fmt: skip
    return min(offs, key=abs, default=0.0)


def _by_hand(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 13."""
    runs = [each for each in mounting.used if BY_HAND.search(each.note)]
    if runs:
        yield about_sound(
            13, mounting, f"{mounting.name}: “{runs[0].note}”", "a meter on a stand, read from afar",
            cause="a body beside the microphone reflects and shades sound",
            test="read it once from two metres away and compare", common="read by a person beside the meter",
            place=runs[0].place,
        )  # fmt: skip


def _below_cut_off(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 14."""
    lowest = mounting.room_from
    if lowest is None:
        return
    tones = sorted({round(tone.frequency) for run in mounting.dwells for tone in run.tones
                    if tone.prominent and tone.frequency < lowest})  # fmt: skip
    if tones:
        yield about_sound(
            14, mounting,
            f"{mounting.name} has a prominent tone at {listed([f'{each} Hz' for each in tones])}, below {lowest:g} Hz",
            "tones at frequencies for which the room is qualified",
            cause="a standing wave of the room may make or hide it",
            test="move the microphone by half a metre: a tone of the room changes",
            common="tone below the room's cut-off",
        )  # fmt: skip


def _single_position(fan: HeardFan) -> Iterator[Finding]:
    """Rule 15: once a fan."""
    tones = [(tone.frequency, run.speed.used) for mounting in fan.mountings for run in mounting.dwells
             if run.speed is not None for tone in run.tones
             if tone.prominent and tone.frequency >= (mounting.room_from or 0.0)]  # fmt: skip
    if tones:
        words = listed([f"{frequency:.0f} Hz at {speed * 60:,.0f} rpm" for frequency, speed in sorted(tones)])
        yield about_fan(
            15, fan.name, heard_key(fan), f"{fan.name} has a prominent tone: {words}",
            "several positions before a tone's level is claimed",
            cause="at one position a tone may cancel or double", test="move the microphone by 10 cm and listen",
            common="tones of one position",
        )  # fmt: skip
