"""The day: what stands open, what is stale, what the reference fan says."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from stillroom.lab.book import Book, open_book
from stillroom.lab.findings import findings, undecided
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import missing
from stillroom.store.lab import now
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said
from stillroom.verbs.working import Action


def today(*, lab: Path | None = None) -> Said:
    """The day's checks: what is open, what is stale, what was noted last, which calibrations end soon.

    Parameters
    ----------
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    date = now()[:10]
    with open_lab(lab) as opened:
        book = open_book(opened)
        graph = build_graph(book)
        stale = missing(opened, graph)
        open_ = undecided(findings(opened, book, graph), book.decisions) if not stale else []
    ending = [each for each in book.calibrations.values() if each.due and each.due <= _in_days(date, 30)]
    repeats = [each for each in book.decisions.values() if each.action == Action.REPEAT]
    blocking = sum(each.blocks for each in open_)
    lines = [
        f"Curves to work out: {len(stale)}" + (" (stillroom reduce)" if stale else ""),
        f"Findings open: {len(open_)}, {blocking} of them blocking" if not stale
        else "Findings: not looked at before the curves are worked out",
        *(f"To be repeated: {each.subject}: {each.reason} ({each.by})" for each in repeats),
        *(f"Calibration of {each.instrument} {'was' if each.due < date else 'is'} due {each.due}"
          for each in ending if each.due),
        *(f"Noted {each.time}: {each.text}" for each in list(book.events.values())[-3:]),
        *(f"Spread agreed {each.date}: {each.measure}: mountings {each.mounting:.2%}, samples {each.sample:.2%}"
          for each in book.spreads.values()),
        _reference_words(book, graph, date),
    ]  # fmt: skip
    data = {
        "date": date,
        "stale": [each.subject for each in stale],
        "open": [each.id for each in open_],
        "repeat": [each.subject for each in repeats],
        "calibrations_due": [each.name for each in ending],
    }
    return Said(f"{book.settings.name}, {date}.", lines=tuple(lines), data=data)


def _reference_words(book: Book, graph: Graph, date: str) -> str:
    """Whether the reference fan was measured today; what isn't there is said, not demanded."""
    name = book.settings.reference_fan
    if not name:
        return "Reference fan: none is named in lab.toml (reference_fan), so drift of the rig goes unseen"
    dates = sorted({run.placed.date[:10] for node in graph.mountings(name) for run in node.runs})
    if not dates:
        return f"Reference fan {name}: never measured"
    return f"Reference fan {name}: {'measured today' if dates[-1] == date else 'last measured ' + dates[-1]}"


def _in_days(date: str, days: int) -> str:
    return (dt.date.fromisoformat(date) + dt.timedelta(days=days)).isoformat()
