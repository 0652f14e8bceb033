"""The day: what the reference fan says of the rigs, what stands open, what is stale, what ends soon."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from stillroom import wording
from stillroom.lab.blocking import open_blocks, undecided
from stillroom.lab.book import Book, open_book
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.eras.control_charts import ControlChart, control_charts
from stillroom.lab.eras.reference import reference_name, reference_rigs
from stillroom.lab.eras.rig_nodes import RigNode
from stillroom.lab.eras.watch_facts import watch_facts
from stillroom.lab.findings import findings
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import missing
from stillroom.measures import measure_named
from stillroom.publish.correcting.stale import stale_releases
from stillroom.quality import Finding, Group, grouped
from stillroom.quality.rigs import WatchFacts
from stillroom.records.acts import Event, Spread
from stillroom.store.lab import Lab, now
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said, Table
from stillroom.verbs.working import Action
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

SHOWN_FINDINGS = 5
DUE_DAYS = 30


def today(*, lab: Path | None = None) -> Said:
    """The day's checks: the reference fan on each rig, what is to be repeated, open or stale, what ends soon.

    Parameters
    ----------
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    date = now()[:10]
    with open_lab(lab) as opened:
        book = open_book(opened)
        graph = build_graph(book)
        stale = missing(opened, graph)
        found = findings(opened, book, graph) if not stale else []
        open_ = undecided(found, book.decisions)
        rigs = [] if stale else watch_facts(opened, book, graph, open_blocks(found, book.decisions))
        charts = [] if stale else _charts(opened, book, graph)
        outdated = stale_releases(opened, book, graph)
    here = {each.id for each in found}  # a decision lapses with its finding; unknown while curves are missing
    repeats = [each for each in book.decisions.values()
               if each.action == Action.REPEAT and (stale or each.finding in here)]  # fmt: skip
    ending = _ending(book, date)
    lines = [
        *_reference_words(book, graph, charts, rigs, date, looked=not stale),
        *(f"No bridge on {rig.words}: {era.why!r} ({era.began[:10]}). {wording.sentence(era.advice)}".rstrip()
          for rig in rigs for era in rig.eras if era.began and not era.bridged),
        *(f"To be repeated: {each.subject}: {each.reason} ({each.by})" for each in repeats),
        *_stale_words(graph, stale),
        *(each.words for each in outdated),
        *_finding_words(open_, book.settings.units, looked=not stale),
        *(f"Calibration of {name.rpartition('@')[0]} {'was' if due < date else 'is'} due {due}"
          for name, due in ending),
        *_zeros(book),
        *(f"Noted {each.time}: {each.text}" for each in _lately(book, charts)),
        *map(_spread_words, book.spreads.values()),
    ]  # fmt: skip
    data = {
        "date": date,
        "reference": [_chart_data(book, each, date) for each in charts],
        "eras_without_bridge": _unbridged(rigs),
        "stale": [each.subject for each in stale],
        "stale_releases": [each.as_dict() for each in outdated],
        "open": [each.id for each in open_],
        "repeat": [each.subject for each in repeats],
        "calibrations_due": [name for name, _ in ending],
    }
    tables = (("Reference fan", _chart_table(book, charts, date)),) if charts else ()
    return Said(f"{book.settings.name}, {date}.", tables=tables, lines=tuple(lines), data=data)


def _spread_words(spread: Spread) -> str:
    """An agreed spread: of levels in dB, of temperatures in K, of anything else as a share of the value."""
    unit = measure_named(spread.measure.partition(",")[0]).spread_unit
    between, samples = (
        f"{each:.2f} {unit}" if unit else f"{each:.2%}" for each in (spread.mounting, spread.sample)
    )
    return f"Spread agreed {spread.date}: {spread.measure}: mountings {between}, samples {samples}"


# --- the reference fan -------------------------------------------------------------------------------------


def _charts(lab: Lab, book: Book, graph: Graph) -> list[ControlChart]:
    return [chart for rig in reference_rigs(book, graph) for chart in control_charts(lab, book, graph, rig)]


def _reference_words(
    book: Book, graph: Graph, charts: list[ControlChart], rigs: list[WatchFacts], date: str, *, looked: bool
) -> list[str]:
    """Whether the reference fan was measured today on each rig; what isn't there is said, not demanded."""
    if not book.settings.reference_fan:
        return ["Reference fan: none is named in lab.toml (reference_fan), so drift of the rig goes unseen"]
    name = reference_name(book, graph)
    if not looked:
        return [f"Reference fan {name}: not looked at before the curves are worked out"]
    last = {each.rig: each.dates[-1][:10] for each in charts}
    said = []
    for rig in rigs:
        when = last.get(rig.rig)
        words = (
            "never measured"
            if when is None
            else "measured today"
            if when == date
            else f"last measured {when}"
        )
        said.append(f"Reference fan {name} on {rig.words}: {words}")
    return said or [f"Reference fan {name}: never measured"]


def _shown(book: Book, chart: ControlChart) -> str:
    return shown_unit(BY_NAME[measure_named(chart.what).quantity], book.settings.units)


def _chart_table(book: Book, charts: list[ControlChart], date: str) -> Table:
    headers = ("rig", "line", "last check", "value", "limits", "average", "average's limits", "it says")
    return Table(headers, tuple(_row(book, each, date) for each in charts), right=(3,))


def _row(book: Book, chart: ControlChart, date: str) -> tuple[str, ...]:
    unit = _shown(book, chart)
    value, limits, average, room = (
        from_si(chart.values[-1], unit), chart.limits[-1], chart.ewma[-1], chart.ewma_limits[-1]
    )  # fmt: skip
    when = "today" if chart.dates[-1][:10] == date else chart.dates[-1][:10]
    title, rig = measure_named(chart.what).title.lower(), chart.rig or "the rig"
    line = f"{title}, {unit}" + (f" at {chart.speed * 60:,.0f} rpm" if chart.speed else "")
    if limits is None or average is None or room is None:
        count = sum(each == chart.eras[-1] for each in chart.eras)
        said = f"not established: {wording.plural(count, 'check')} of ten"
        return (rig, line, when, wording.bare(value), "", "", "", said)
    low, high = (from_si(end, unit) for end in limits)
    places = wording.places_for((high - low) / 2)
    within = [wording.number(from_si(end, unit), places) for end in room]
    said = ", ".join(each.value for each in chart.signals[-1]) or "inside its limits"
    return (rig, line, when, wording.number(value, places),
            f"{wording.number(low, places)} to {wording.number(high, places)}",
            wording.number(from_si(average, unit), places), " to ".join(within), said)  # fmt: skip


def _chart_data(book: Book, chart: ControlChart, date: str) -> dict[str, Any]:
    unit = _shown(book, chart)

    def shown(ends: tuple[float, float] | None) -> list[float] | None:
        return None if ends is None else [from_si(end, unit) for end in ends]

    average = chart.ewma[-1]
    return {
        "rig": chart.rig, "fan": chart.fan, "line": chart.what, "unit": unit,
        "speed": chart.speed * 60 if chart.speed else None, "date": chart.dates[-1],
        "today": chart.dates[-1][:10] == date, "mounting": chart.mountings[-1], "era": chart.eras[-1],
        "checks": len(chart.values), "established": chart.established,
        "value": from_si(chart.values[-1], unit), "limits": shown(chart.limits[-1]),
        "ewma": None if average is None else from_si(average, unit),
        "ewma_limits": shown(chart.ewma_limits[-1]), "signals": [each.value for each in chart.signals[-1]],
    }  # fmt: skip


def _unbridged(rigs: list[WatchFacts]) -> list[dict[str, Any]]:
    return [
        {"rig": rig.rig, "era": era.number, "since": era.began, "why": era.why, "advice": era.advice}
        for rig in rigs
        for era in rig.eras
        if era.began and not era.bridged
    ]


# --- what else the day asks ----------------------------------------------------------------------------------


STALE = {
    "mounting": "Curves",
    "obstacle": "Curves",
    "sound": "Sounds",
    "heat": "Heat runs",
    "control": "Control tests",
}
"""What is to be worked out, by kind of result."""


def _stale_words(graph: Graph, stale: Sequence[RigNode | ControlNode]) -> list[str]:
    """What is to be worked out: curves, and whatever else the lab has."""
    has = {"Curves": True, "Sounds": graph.sounds, "Heat runs": graph.heats, "Control tests": graph.controls}
    counts = Counter(STALE[each.kind] for each in stale)
    return [
        f"{what} to work out: {counts[what]}" + (" (stillroom reduce)" if counts[what] else "")
        for what, there in has.items()
        if there
    ]


def _finding_words(open_: list[Finding], units: Mapping[str, str], *, looked: bool) -> list[str]:
    """How many findings are open, and the first groups of them by consequence."""
    if not looked:
        return ["Findings: not looked at before the curves are worked out"]
    blocking = sum(each.blocks for each in open_)
    lines = [f"Findings open: {len(open_)}, {blocking} of them blocking"]
    groups = grouped(open_)
    lines += [f"    {wording.in_lab_units(_group_words(each), units)}" for each in groups[:SHOWN_FINDINGS]]
    if len(groups) > SHOWN_FINDINGS:
        rest = sum(len(each.members) for each in groups[SHOWN_FINDINGS:])
        lines.append(f"    and {rest} more (stillroom review)")
    return lines


def _group_words(each: Group) -> str:
    """Findings of one cause in one line, as `review` groups them."""
    others = len(each.members) - 1
    more = f"; and {others} more of this cause" if others else ""
    return f"{each.id} {each.first.severity.words}: {each.first.found}{more}"


def _ending(book: Book, date: str) -> list[tuple[str, str]]:
    """(name, due date) of the latest calibration of each instrument, where it ends soon or has ended."""
    latest = {
        each.instrument: each for each in sorted(book.calibrations.values(), key=lambda each: each.date)
    }
    soon = (dt.date.fromisoformat(date) + dt.timedelta(days=DUE_DAYS)).isoformat()
    return [(each.name, each.due) for each in latest.values() if each.due and each.due <= soon]


def _zeros(book: Book) -> list[str]:
    """When zeros were last noted in the log, on each rig."""
    last: dict[str, Event] = {}
    for each in sorted(book.events.values(), key=lambda each: each.time):
        if "zero" in each.text.casefold():
            last[each.rig or ""] = each
    return [
        f"Zeros{f' of {rig}' if rig else ''} last noted {each.time}: {each.text}"
        for rig, each in last.items()
    ]


def _lately(book: Book, charts: list[ControlChart]) -> list[Event]:
    """What was noted since the last check of a rig, at least the last three lines of the log."""
    log = sorted(book.events.values(), key=lambda each: each.time)
    last = max((each.dates[-1] for each in charts), default="9999")
    since = [each for each in log if each.time[: len(last)] >= last]
    return max(since, log[-3:], key=len)
