"""Following a number back to the bytes that it came from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from stillroom import wording
from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import Book, open_book
from stillroom.lab.control.nodes import KIND as CONTROL
from stillroom.lab.control.tracing import control_words
from stillroom.lab.heat.nodes import KIND as HEAT
from stillroom.lab.heat.nodes import LAW
from stillroom.lab.heat.tracing import heat_words, law_words, say_logs
from stillroom.lab.sound.kept_limits import KIND as LIMIT
from stillroom.lab.sound.kept_limits import limit_in_words
from stillroom.lab.sound.nodes import KIND as SOUND
from stillroom.lab.sound.nodes import RECORDING
from stillroom.lab.sound.tracing import recording_words, say_original, say_recordings, sound_words
from stillroom.lab.source_words import source_in_words
from stillroom.measures import measure_named
from stillroom.records.acts import Taken
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME, from_si, shown_unit


@dataclass
class Trace:
    """A number's way back, in words (indented lines) and as data."""

    title: str
    lines: tuple[str, ...]
    data: dict[str, Any] = field(default_factory=dict)


def follow(lab: Lab, prefix: str) -> Trace:
    """Follow a key (or its first digits).

    Raises
    ------
    BadInput : too few digits, or digits that several keys share. UnknownThing : no such key.
    """
    if len(prefix) < 6 or not set(prefix) <= set("0123456789abcdef"):
        raise BadInput(
            "key", found=repr(prefix), expected="at least six digits 0-9a-f of a key beside a number"
        )
    found = results.starting_with(lab.database, prefix)
    if not found:
        raise UnknownThing("key", found=prefix, expected="a key of this lab; `stillroom rank` shows them")
    if len(found) > 1:
        raise BadInput("key", found=f"{prefix}, which {len(found)} keys start with", expected="more digits")
    book = open_book(lab)
    lines: list[str] = []
    data = _result(lab, book, found[0], 0, lines)
    return Trace(lines[0], tuple(lines[1:]), data)


def _say(lines: list[str], depth: int, text: str) -> None:
    lines.append("    " * depth + text)


def _result(lab: Lab, book: Book, result: Result, depth: int, lines: list[str]) -> dict[str, Any]:
    """One result and all that it hangs on."""
    what = _what(result, book.settings.units)
    _say(lines, depth, f"{result.kind} of {result.subject}: {what} [{result.key}, {result.method}]")
    below: list[dict[str, Any]] = []
    for key in _hangs_on(result):
        each = results.get(lab.database, key)
        if each is not None:
            below.append(_result(lab, book, each, depth + 1, lines))
    for run in result.inputs.get("runs", ()):
        below.append(_run(book, run, result, depth + 1, lines))
    if result.kind in _BELOW:
        below += _BELOW[result.kind](book, result, depth + 1, lambda deep, text: _say(lines, deep, text))
    if result.kind == "value":
        _say(lines, depth + 1, _spread(result))
        for source, share in result.body["contributions"].items():
            _say(lines, depth + 2, f"{share:6.1%} of the variance from {source_in_words(source)}")
    left_out = {"curve", "runs", "loadings", "recordings", "heard", "series", "flow_law"}
    body = {name: value for name, value in result.body.items() if name not in left_out}
    return {"key": result.key, "kind": result.kind, "subject": result.subject, "method": result.method,
            "body": body, "from": below}  # fmt: skip


def shown(result: Result, value: float, chosen: dict[str, str]) -> str:
    """A value of a measure with its unit, as the lab shows it; the unit by the measure that the method names."""
    quantity = BY_NAME[measure_named(result.method.partition(" ")[0]).quantity]
    symbol = shown_unit(quantity, chosen)
    return wording.with_unit(f"{from_si(value, symbol):.6g}", symbol)


def _what(result: Result, units: dict[str, str]) -> str:
    if result.failed:
        return f"could not be had: {result.failed}"
    if result.kind == "value":
        value, low, high = (shown(result, result.body[name], units) for name in ("value", "low", "high"))
        bound = f"{result.body['bound']} " if result.body.get("bound") in ("at least", "at most") else ""
        return f"{bound}{value} ({low} to {high})"
    if result.kind == "mounting value":
        return shown(result, result.body["value"], units)
    if result.kind == "mounting":
        curve = result.body["curve"]
        dropped = sum(each["dropped"] for each in curve["sweeps"])
        points = f"{dropped} left out, {len(curve['held'])} points held"
        return f"characteristic from {len(curve['sweeps'])} sweeps, {points}"
    if result.kind == "bridge":
        return bridge_words(result.body)
    if result.kind in _WORDS:
        return _WORDS[result.kind](result)
    if result.kind == "legacy":
        body = result.body
        return f"{body['value']:g} {body['unit']}, as it was told: there are no raw data"
    return f"resistance {result.body.get('law', '')}" if result.kind == "obstacle" else result.kind


_WORDS = {
    SOUND: sound_words,
    RECORDING: recording_words,
    LIMIT: limit_in_words,
    HEAT: heat_words,
    LAW: law_words,
    CONTROL: control_words,
}
"""What results of sound and of heat are, by kind."""

_BELOW = {SOUND: say_recordings, RECORDING: say_original, HEAT: say_logs}
"""What they are made of."""


def bridge_words(body: dict[str, Any]) -> str:
    """A bridge with what it rests on."""
    before, after = len(body["before"]), len(body["after"])
    return (
        f"× {body['ratio']:.4f} ({body['low']:.4f} to {body['high']:.4f}) from {', '.join(body['samples'])},"
        f" {before} mountings before and {after} after {body['event']!r}"
    )


def _hangs_on(result: Result) -> list[str]:
    keys = list(result.inputs.get("values", {}).values())
    keys += dict.fromkeys(result.inputs.get("bridges", {}).values())
    keys += result.inputs.get("sounds", {}).values()
    keys += result.inputs.get("heats", {}).values()
    for role in ("mounting", "obstacle", "limit"):
        told = result.inputs.get(role)
        if isinstance(told, str) and told:
            keys.append(told)
        elif isinstance(told, list):
            keys += told
    return keys


def _spread(result: Result) -> str:
    spread = result.body["spread"]
    unit = spread.get("unit") or "dB"  # absolute spreads were of levels alone before they told their unit
    mounting, sample = (
        f"{spread[each]:.2f} {unit}" if spread.get("absolute") else f"{spread[each]:.2%}"
        for each in ("mounting", "sample")
    )
    return (
        f"spread between mountings {mounting} ({spread['mounting_dof']:.0f} degrees of freedom),"
        f" between samples {sample} ({spread['sample_dof']:.0f})"
    )


def _run(book: Book, run: dict[str, Any], result: Result, depth: int, lines: list[str]) -> dict[str, Any]:
    taken = next((each for each in book.taken.values() if each.run == run["run"]), None)
    facts: dict[str, Any] = next(
        (each for each in result.body.get("runs", ()) if each["run"] == run["run"]), {}
    )
    setting = "" if result.kind == "obstacle" else f" at {run['setting'] or 'an untold setting'}"
    _say(lines, depth, f"run {run['run']}{setting}, {facts.get('points', '?')} points")
    if taken is not None:
        at = facts.get("lines") or [0, 0]
        part = f"part {taken.part}, " if taken.part else ""
        where = f"{taken.place}, {_table(taken)}{part}lines {at[0]} to {at[-1]}"
        _say(lines, depth + 1, f"original {where}, SHA-256 {taken.sha256}")
        _say(lines, depth + 1, f"read by {_reader(taken)}, {_columns(taken)}")
    for quantity, name in run["calibrations"].items():
        _say(lines, depth + 1, f"{quantity.replace('_', ' ')}: {_calibration(book, name)}")
    for name in run["nozzles"]:
        nozzle = book.nozzles.get(name)
        if nozzle is not None:
            _say(
                lines,
                depth + 1,
                f"nozzle {name}: bore {nozzle.bore * 1000:.4g} mm, certificate {nozzle.certificate}",
            )
    for mark in facts.get("marks", ()):
        _say(lines, depth + 1, f"mark: {mark}")
    original = {}
    if taken:
        original = {"place": taken.place, "sha256": taken.sha256, "file": taken.file, "part": taken.part}
    return {**run, "original": original, "lines": facts.get("lines", [])}


def _reader(taken: Taken) -> str:
    """What read a file: "table 2" is the second version of the reader of tables."""
    name, _, version = taken.reader.rpartition(" ")
    return f"version {version} of the {name} reader"


def _table(taken: Taken) -> str:
    """The sheet and table of a file that holds several, for a place."""
    sheet, block = taken.layout.get("sheet", ""), taken.layout.get("block", 1)
    return (f"sheet {sheet!r}, " if sheet else "") + (f"table {block}, " if block != 1 else "")


def _columns(taken: Taken) -> str:
    """The columns as they are read: header, and the unit in which it was read."""
    told = (
        each for each in taken.layout.get("columns", ()) if isinstance(each, dict) and each.get("quantity")
    )
    return "columns " + ", ".join(
        f"{each.get('header')}{f' in {unit}' if (unit := each.get('unit')) else ''}" for each in told
    )


def _calibration(book: Book, name: str) -> str:
    record = book.calibrations.get(name)
    if record is None:
        return name
    return (
        f"{record.instrument}, calibrated {record.date}, certificate {record.certificate}, due {record.due}"
    )
