"""Following a number back to the bytes that it came from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import Book, open_book
from stillroom.records.acts import Taken
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


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
    _say(lines, depth, f"{result.kind} of {result.subject}: {_what(result)} [{result.key}, {result.method}]")
    below: list[dict[str, Any]] = []
    for key in _hangs_on(result):
        each = results.get(lab.database, key)
        if each is not None:
            below.append(_result(lab, book, each, depth + 1, lines))
    for run in result.inputs.get("runs", ()):
        below.append(_run(book, run, result, depth + 1, lines))
    if result.kind == "value":
        _say(lines, depth + 1, _spread(result))
        for source, share in result.body["contributions"].items():
            _say(lines, depth + 2, f"{share:6.1%} of the variance from {source}")
    body = {name: value for name, value in result.body.items() if name not in {"curve", "runs", "loadings"}}
    return {"key": result.key, "kind": result.kind, "subject": result.subject, "method": result.method,
            "body": body, "from": below}  # fmt: skip


def _what(result: Result) -> str:
    if result.failed:
        return f"could not be had: {result.failed}"
    if result.kind == "value":
        body = result.body
        return f"{body['value']:.6g} ({body['low']:.6g} to {body['high']:.6g}) SI"
    if result.kind == "mounting value":
        return f"{result.body['value']:.6g} SI"
    if result.kind == "mounting":
        curve = result.body["curve"]
        dropped = sum(each["dropped"] for each in curve["sweeps"])
        points = f"{dropped} left out, {len(curve['held'])} points held"
        return f"characteristic from {len(curve['sweeps'])} sweeps, {points}"
    if result.kind == "bridge":
        return bridge_words(result.body)
    if result.kind == "legacy":
        body = result.body
        return f"{body['value']:g} {body['unit']}, as it was told: there are no raw data"
    return f"resistance {result.body.get('law', '')}" if result.kind == "obstacle" else result.kind


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
    for role in ("mounting", "obstacle"):
        told = result.inputs.get(role)
        if isinstance(told, str) and told:
            keys.append(told)
        elif isinstance(told, list):
            keys += told
    return keys


def _spread(result: Result) -> str:
    spread = result.body["spread"]
    return (
        f"spread between mountings {spread['mounting']:.2%} ({spread['mounting_dof']:.0f} degrees of freedom),"
        f" between samples {spread['sample']:.2%} ({spread['sample_dof']:.0f})"
    )


def _run(book: Book, run: dict[str, Any], result: Result, depth: int, lines: list[str]) -> dict[str, Any]:
    taken = next((each for each in book.taken.values() if each.run == run["run"]), None)
    facts: dict[str, Any] = next(
        (each for each in result.body.get("runs", ()) if each["run"] == run["run"]), {}
    )
    _say(
        lines,
        depth,
        f"run {run['run']} at {run['setting'] or 'an untold setting'}, {facts.get('points', '?')} points",
    )
    if taken is not None:
        at = facts.get("lines") or [0, 0]
        _say(lines, depth + 1, f"original {taken.place}, lines {at[0]} to {at[-1]}, SHA-256 {taken.sha256}")
        _say(lines, depth + 1, f"read by {taken.reader}, {_columns(taken)}")
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
    original = {"place": taken.place, "sha256": taken.sha256, "file": taken.file} if taken else {}
    return {**run, "original": original, "lines": facts.get("lines", [])}


def _columns(taken: Taken) -> str:
    told = taken.layout.get("columns", ())
    return "columns " + ", ".join(f"{each.get('header')}" for each in told if isinstance(each, dict))


def _calibration(book: Book, name: str) -> str:
    record = book.calibrations.get(name)
    if record is None:
        return name
    return (
        f"{record.instrument}, calibrated {record.date}, certificate {record.certificate}, due {record.due}"
    )
