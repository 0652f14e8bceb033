"""A mounting's heat followed back to its logs: each step, each clock, each channel's calibration, and the bytes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from stillroom import wording
from stillroom.lab.book import Book
from stillroom.records.acts import Taken
from stillroom.store.results import Result

Say = Callable[[int, str], None]
"""Says a line at a depth."""


def heat_words(result: Result) -> str:
    """What the heat of a mounting is, in a few words."""
    steps = result.body["steps"]
    used = [each for each in steps if each["delta_nominal"] is not None]
    power = f"at {result.body['nominal']:g} W"
    if not used:
        one = "its step is neither steady nor forecast"
        return one if len(steps) == 1 else f"none of its {len(steps)} steps is steady or forecast"
    of_all = f" of {len(steps)}" if len(used) < len(steps) else ""
    rises = sorted(each["delta_nominal"] for each in used)
    span = f"{rises[0]:.2f} K" if len(rises) == 1 else f"{rises[0]:.2f} to {rises[-1]:.2f} K"
    return f"temperature rise {span} {power} from {wording.plural(len(used), 'step')}{of_all}"


def law_words(result: Result) -> str:
    """What the law of a rig's era is, in a few words."""
    law = result.body["flow_law"]
    fans = len({each["fan"] for each in law["labels"]})
    return (
        f"R = {law['R0']:.4f} + {law['c']:.4f} (Q / {law['reference'] * 3600.0:.1f} m³/h)^−{law['m']:.2f} K/W"
        f" from {wording.plural(len(law['labels']), 'step')} of {wording.plural(fans, 'fan')}"
    )


def say_logs(book: Book, result: Result, depth: int, say: Say) -> list[dict[str, Any]]:
    """The steps of a mounting, its clocks, and the logs and baths that it hangs on, with their originals."""
    body = result.body
    for step in body.get("steps", ()):
        say(depth, _step_words(step))
        for mark in step["marks"]:
            say(depth + 1, f"mark: {mark}")
    for clock in body.get("clocks", ()):
        say(depth, _clock_words(clock))
    for name, told in body.get("offsets", {}).items():
        words = f"{name.replace('_', ' ')}: {told['offset']:+.3f} K, standard uncertainty {told['u']:.3f} K"
        say(depth, f"{words} ({told['from']})")
    facts = {each["run"]: each for each in body.get("logs", ())}
    below = [
        _say_one(book, role, told, facts.get(told["run"], {}), depth, say)
        for role in ("logs", "baths")
        for told in result.inputs.get(role, ())
    ]
    for mark in body.get("marks", ()):
        say(depth, f"mark: {mark}")
    return below


def _step_words(step: Mapping[str, Any]) -> str:
    name = f"step {step['number']}{_setting_words(step)}"
    speed = f", {step['speed'] * 60.0:,.0f} rpm" if step["speed"] else ""
    when = f", from {step['first'] / 60.0:.1f} to {step['last'] / 60.0:.1f} min"
    if step["delta_nominal"] is None:
        return f"{name}{speed}{when}: {step['how']}"
    rise = f"{step['delta_nominal']:.3f} K, standard uncertainty {step['u_own']:.3f} K by its readings"
    power = "" if step["power"] is None else f", {step['power']:.1f} W read"
    return f"{name}{speed}{when}: {step['how']} {rise}{power}"


_UNITS = {"duty": (100.0, " %"), "volts": (1.0, " V"), "speed": (60.0, " rpm")}


def _setting_words(step: Mapping[str, Any]) -> str:
    if step["setting"] is None:
        return ""
    factor, unit = _UNITS[step["setting_kind"]]
    noise = f" for {step['noise']:g} dBA" if step["noise"] else ""
    return f" at {step['setting'] * factor:g}{unit}{noise}"


def _clock_words(clock: Mapping[str, Any]) -> str:
    files = f" ({len(clock['files'])} files)" if len(clock["files"]) > 1 else ""
    if clock["u"] is None:
        return f"clock of {clock['logger']}{files}: {clock['how']}: {clock['why']}"
    shown = f", an edge that both saw shows {clock['found']:+.1f} s" if clock["found"] is not None else ""
    return f"clock of {clock['logger']}{files}: {clock['offset']:+.1f} s ± {clock['u']:.1f} s, {clock['how']}{shown}"


def _say_one(
    book: Book, role: str, told: Mapping[str, Any], facts: Mapping[str, Any], depth: int, say: Say
) -> dict[str, Any]:
    counts = [wording.plural(facts["rows"], "row")] if facts else []
    counts += [wording.plural(facts[each], word) for each, word in _COUNTED.items() if facts.get(each)]
    detail = f": {', '.join(counts)}" if counts else ""
    say(depth, f"{role.removesuffix('s')} {told['run']} [{told['key']}]{detail}")
    taken = next((each for each in book.taken.values() if each.run == told["run"]), None)
    if taken is not None:
        lines = _lines_words(facts)
        say(depth + 1, f"original {taken.place}, {_part_words(taken)}{lines}, SHA-256 {taken.sha256}")
    for quantity, name in told["calibrations"].items():
        say(depth + 1, f"{quantity.replace('_', ' ')}: {_calibration_words(book, name)}")
    if taken is None:
        return dict(told)
    original = {"place": taken.place, "sha256": taken.sha256, "file": taken.file, "part": taken.part}
    steps = [{"step": number, "lines": [first, last]} for number, first, last in facts.get("steps", ())]
    return {
        **told, "original": original, "lines": [facts.get("first"), facts.get("last")], "steps": steps
    }  # fmt: skip


def _lines_words(facts: Mapping[str, Any]) -> str:
    """The lines of a log on which its mounting's numbers rest: those of the steps, else all of them."""
    if not facts.get("first"):
        return "whole"
    whole = f"lines {facts['first']} to {facts['last']}"
    said = [f"{first} to {last} (step {number})" for number, first, last in facts.get("steps", ())]
    return f"lines {wording.listed(said)}, of {whole}" if said else whole


_COUNTED = {"gaps": "gap", "repeated": "repeated stamp"}


def _part_words(taken: Taken) -> str:
    sheet, block = taken.layout.get("sheet", ""), taken.layout.get("block", 1)
    where = (f"sheet {sheet!r}, " if sheet else "") + (f"table {block}, " if block != 1 else "")
    return where + (f"part {taken.part}, " if taken.part else "")


def _calibration_words(book: Book, name: str) -> str:
    record = book.calibrations.get(name)
    if record is None:
        return name
    return (
        f"{record.instrument}, calibrated {record.date}, certificate {record.certificate}, due {record.due}"
    )
