"""A sound followed back to its recordings: each with its level, its calibrator, its background and its bytes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from stillroom import wording
from stillroom.lab.book import Book
from stillroom.records.acts import Taken
from stillroom.store.results import Result

Say = Callable[[int, str], None]
"""Says a line at a depth."""


def sound_words(result: Result) -> str:
    """What the sound of a mounting is, in a few words."""
    curve = result.body["curve"]
    points = curve["levels"]["points"]
    ramps = sum(each["from_ramp"] for each in points)
    counts = [wording.plural(len(points) - ramps, "dwell")] + ([f"{ramps} steps of ramps"] if ramps else [])
    low, high = (each * 60.0 for each in curve["levels"]["reach"])
    return f"level against speed from {wording.listed(counts)}, {low:,.0f} to {high:,.0f} rpm"


def recording_words(result: Result) -> str:
    """What the analysis of a recording is, in a few words."""
    heard = result.body["heard"]
    one = heard[0]
    if len(heard) > 1 or one["calibrated"]:
        return wording.plural(len(heard), "level") + " of a meter"
    length = f"{one['duration']:.1f} s, " if one["duration"] else ""
    return f"{length}{one['level']:.1f} dB re full scale, A-weighted"


def say_original(book: Book, result: Result, depth: int, say: Say) -> list[dict[str, Any]]:
    """The bytes that an analysis was made of."""
    inputs = result.inputs
    same = (
        each
        for each in book.taken.values()
        if each.sha256 == inputs["original"] and each.part == inputs["part"]
    )
    taken = next(same, None)
    if taken is None:
        return []
    say(depth, f"original {taken.place}{_place_words(taken)}, SHA-256 {taken.sha256}")
    return [_original(taken)]


def _original(taken: Taken) -> dict[str, Any]:
    return {"place": taken.place, "sha256": taken.sha256, "file": taken.file, "part": taken.part}


def say_recordings(book: Book, result: Result, depth: int, say: Say) -> list[dict[str, Any]]:
    """The recordings that a sound hangs on, with their originals."""
    for each in result.body.get("calibrations", ()):
        say(depth, _scale_words(each))
    facts: dict[str, list[dict[str, Any]]] = {}
    for each in result.body.get("recordings", ()):
        facts.setdefault(each["run"], []).append(each)
    below = []
    for role in ("recordings", "calibrators", "backgrounds"):
        for told in result.inputs.get(role, ()):
            below.append(_say_one(book, role, told, facts.get(told["run"], []), depth, say))
    for mark in result.body.get("marks", ()):
        say(depth, f"mark: {mark}")
    return below


def _say_one(
    book: Book, role: str, told: Mapping[str, Any], facts: list[dict[str, Any]], depth: int, say: Say
) -> dict[str, Any]:
    first = facts[0] if facts else {}
    what = first.get("what", role.removesuffix("s"))
    setting = f" at {told['setting']}" if told["setting"] and role == "recordings" else ""
    levels = "; ".join(filter(None, (_level_words(each, role) for each in facts)))
    say(depth, f"{what} {told['run']}{setting} [{told['key']}]" + (f": {levels}" if levels else ""))
    taken = next((each for each in book.taken.values() if each.run == told["run"]), None)
    if taken is None:
        return dict(told)
    say(depth + 1, f"original {taken.place}{_place_words(taken)}, SHA-256 {taken.sha256}")
    return {**told, "what": what, "original": _original(taken)}


def _level_words(facts: Mapping[str, Any], role: str) -> str:
    if facts.get("failed"):
        return f"could not be used: {facts['failed']}"
    if facts.get("level") is None:
        return ""
    read = f"{facts['level']:.1f} dBA"
    if role != "recordings" or facts.get("level_corrected") is None:
        return read
    speed = facts.get("speed")
    turning = f" at {speed['used'] * 60.0:,.0f} rpm (from {_SPEED_WORDS[speed['from']]})" if speed else ""
    if facts.get("background") is None:
        return f"{read}{turning}, no background recorded"
    room = f", background {facts['background']:.1f} dBA"
    if facts["is_bound"]:
        return f"{read}{turning}{room}: at most {facts['level_corrected']:.1f} dBA"
    return f"{read}{turning}{room}, corrected {facts['level_corrected']:.1f} dBA"


_SPEED_WORDS = {
    "sound": "the sound",
    "tachometer": "its tachometer",
    "optical": "an optical tachometer",
    "told": "what was told",
}


def _scale_words(scale: Mapping[str, Any]) -> str:
    """By what the levels are dB re 20 µPa."""
    name = f" of {scale['microphone']}" if scale["microphone"] else ""
    if scale["nominal"] is None:
        return f"scale{name}: {', '.join(scale['marks'])}, standard uncertainty {scale['u']:.2f} dB"
    sides = [f"{scale[side]:.2f} dB {side}" for side in ("before", "after") if scale[side] is not None]
    return (
        f"scale{name}: {scale['offset']:+.2f} dB by a calibrator of {scale['nominal']:g} dB"
        f" ({', '.join(sides)}), standard uncertainty {scale['u']:.2f} dB"
    )


def _place_words(taken: Taken) -> str:
    """Where in the file, for what holds more than one."""
    layout = taken.layout
    if "audio" in layout:
        return f", channel {layout['channel']} of {layout['channels']}" if layout["channels"] != 1 else ""
    block = f", table {layout['block']}" if layout.get("block", 1) != 1 else ""
    return block + (f", part {taken.part}" if taken.part else "")
