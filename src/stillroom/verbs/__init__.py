"""One short function per thing that one can do; the command line is made from their signatures.

A verb's module is loaded when the verb is first asked for: the command line starts without the others.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from stillroom.verbs.said import Said

if TYPE_CHECKING:
    from stillroom.verbs.answers import rank, trace
    from stillroom.verbs.asking import ask
    from stillroom.verbs.charting import chart
    from stillroom.verbs.conditions import Conditions
    from stillroom.verbs.correcting import correct
    from stillroom.verbs.day import today
    from stillroom.verbs.demonstrating import demo
    from stillroom.verbs.dossiers import dossier
    from stillroom.verbs.intake import add
    from stillroom.verbs.keeping import backup, new, restore, verify
    from stillroom.verbs.listening import listen
    from stillroom.verbs.noting import note
    from stillroom.verbs.publishing import publish
    from stillroom.verbs.set_lists import set_list
    from stillroom.verbs.watching import watch
    from stillroom.verbs.working import decide, reduce, review

__all__ = [
    "LISTED", "VERBS", "Conditions", "Listed", "add", "ask", "backup", "chart", "correct", "decide", "demo", "dossier",
    "listen", "loaded", "new", "note", "publish", "rank", "reduce", "restore", "review", "set_list", "today", "trace",
    "verify", "watch",
]  # fmt: skip


class Listed(NamedTuple):
    """A verb as the help lists it: the module that holds it, and what it does, as its docstring begins."""

    module: str
    summary: str


LISTED: dict[str, Listed] = {
    "new": Listed("keeping", "Make a new lab folder with its settings."),
    "demo": Listed("demonstrating", "Make an invented laboratory and do the main job on its raw exports."),
    "add": Listed("intake", "Bring in folders, tables, rigs and measurement files."),
    "watch": Listed(
        "watching",
        "Follow the growing logger files of heat rigs, and say of each rig whether its fan may come off.",
    ),
    "note": Listed("noting", 'Write a line in the log, such as "coolant topped up"'),
    "today": Listed(
        "day", "The day's checks: the reference fan on each rig, what is to be repeated, open or stale"
    ),
    "reduce": Listed(
        "working", "Work out what is missing: points, characteristics, resistances, sound, heat."
    ),
    "review": Listed("working", "The findings that nobody has decided yet, by consequence"),
    "decide": Listed("working", "Accept, repeat or exclude what findings speak of, with a reason and a name"),
    "rank": Listed("answers", "Put fans in order by a measure, with ties drawn as ties."),
    "chart": Listed("charting", "Draw a chart as PNG 3840 × 2160, SVG, a page that works from a file"),
    "ask": Listed(
        "asking", "Ask what one fan does: airflow, pressure, speed, power, efficiency, sound and heat"
    ),
    "set-list": Listed(
        "set_lists",
        "Say at which speed and duty each fan meets each noise limit: the list that other rigs are set by.",
    ),
    "listen": Listed(
        "listening",
        "Write excerpts of fans' recordings for a video, all on one scale, with the tone by which",
    ),
    "publish": Listed(
        "publishing",
        "Freeze a release: charts, tables, open data, documents and the reader's page, in releases/NAME.",
    ),
    "correct": Listed(
        "correcting", "Compare a frozen release with what the lab says now: what moved, why, and the notice"
    ),
    "trace": Listed("answers", "Follow a number back: measure, curves, points, runs, originals"),
    "dossier": Listed(
        "dossiers", "Write all that the lab has of one fan into a folder, for whoever disputes a number."
    ),
    "verify": Listed("keeping", "Prove that the lab is whole: the journal's chain, every original's bytes"),
    "backup": Listed("keeping", "Write originals and journal as plain files into one ZIP file."),
    "restore": Listed(
        "keeping", "Make a lab again from a backup, after checking every entry and every byte."
    ),
}
"""All verbs by their names on the command line, in the order in which the documentation lists them."""

VERBS: tuple[Callable[..., Said], ...]
"""All verbs themselves; asking for them loads every module."""


def loaded(name: str) -> Callable[..., Said]:
    """A verb by its name on the command line; its module is loaded where it wasn't yet."""
    module = importlib.import_module(f"{__name__}.{LISTED[name].module}")
    verb: Callable[..., Said] = getattr(module, name.replace("-", "_"))
    return verb


def __getattr__(name: str) -> object:
    """A verb by its name, all of them as VERBS, or the record of conditions, when first asked for."""
    found: object
    written = name.replace("_", "-")
    if written in LISTED:
        found = loaded(written)
    elif name == "VERBS":
        found = tuple(loaded(each) for each in LISTED)
    elif name == "Conditions":
        found = importlib.import_module(f"{__name__}.conditions").Conditions
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    return found
