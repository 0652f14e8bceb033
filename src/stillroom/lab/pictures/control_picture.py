"""The reference fan's control chart as a picture: checks, limits, signals, events and eras of one rig."""

from __future__ import annotations

import re

from stillroom import wording
from stillroom.charts.further_series import CheckEra, CheckEvent, CheckLimits, CheckPoint, ControlPicture
from stillroom.core.control_chart import ESTABLISHED
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.eras.check_ways import watched_obstacle
from stillroom.lab.eras.control_charts import ChartEvent, ControlChart, control_chart, control_charts
from stillroom.lab.eras.eras import eras_of
from stillroom.lab.eras.reference import reference_rigs
from stillroom.lab.pictures.picture_words import footer, plain_name, versions_in_words
from stillroom.lab.recipes import Graph
from stillroom.measures import measure_named
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

MOST_EVENTS = 12
"""The latest events drawn; the log has all."""


def control(lab: Lab, book: Book, graph: Graph, rig: str, what: str) -> tuple[ControlPicture, str]:
    """The control chart of a rig's reference fan, and the name of the files.

    Parameters
    ----------
    rig : its name; the only one with checks where empty. what : the measure watched; where empty, the line with
        most signals, the first where none has any.

    Raises
    ------
    UnknownThing : a rig without checks, or a measure that isn't watched. NotPossible : no reference fan was measured.
    """
    name = _rig(book, graph, rig)
    every = [control_chart(lab, book, graph, name, what)] if what else control_charts(lab, book, graph, name)
    found = max(every, key=lambda each: len(_signals(each)))
    measure = measure_named(found.what)
    unit = shown_unit(BY_NAME[measure.quantity], book.settings.units)
    at = f" at {found.speed * 60:,.0f} rpm" if found.speed else " at full setting"
    obstacle = watched_obstacle(lab, book, graph) if measure.through else None
    through = f" through {versions_in_words(obstacle.subject)}" if obstacle else ""
    points = _points(found, unit)
    events, notes = _events(book, found)
    picture = ControlPicture(
        title=_title(found, name, 0 if what else len(every)),
        subtitle=f"{measure.title} of {found.fan}{through}{at}, {unit}; dashed: limits of a check,"
        " band: limits of the weighted mean (EWMA)",
        footer=footer(
            book.settings,
            f"control chart, {measure.name} {measure.version}",
            wording.plural(len(points), "check"),
        ),
        y_label=measure.title,
        y_unit=unit,
        points=points,
        eras=_eras(book, found, name),
        events=tuple(CheckEvent(each.time, each.text, each.new_era) for each in events),
        notes=(*_notes(found), *notes),
        alt=_alt(found, measure.title.lower(), name, events),
    )
    return picture, plain_name("control", name, found.what)


def _rig(book: Book, graph: Graph, rig: str) -> str:
    rigs = reference_rigs(book, graph)
    if rig and rig not in rigs:
        raise UnknownThing("rig with checks", found=repr(rig), expected=", ".join(rigs) or "none is there")
    if len(rigs) > 1 and not rig:
        raise UnknownThing("rig", found="none named", expected="--rig with one of " + ", ".join(rigs))
    if not rigs:
        raise NotPossible("control chart", found="no run of a reference fan",
                          expected="reference_fan in lab.toml, and its runs")  # fmt: skip
    return rig or rigs[0]


def _points(found: ControlChart, unit: str) -> tuple[CheckPoint, ...]:
    points = []
    for index, date in enumerate(found.dates):
        centre, limits = found.centre[index], found.limits[index]
        ewma, ends = found.ewma[index], found.ewma_limits[index]
        bounds = None
        if centre is not None and limits is not None and ewma is not None and ends is not None:
            bounds = CheckLimits(*(from_si(each, unit) for each in (centre, *limits, ewma, *ends)))
        points.append(
            CheckPoint(
                date,
                from_si(found.values[index], unit),
                bounds,
                ", ".join(each.value for each in found.signals[index]),
                f"era {found.eras[index]}",
            )
        )
    return tuple(points)


def _eras(book: Book, found: ControlChart, rig: str) -> tuple[CheckEra, ...]:
    """The eras that hold a check; one ends where the next begins."""
    every = eras_of(book, rig)
    ends = [*(each.began for each in every[1:]), ""]
    held = [(era, end) for era, end in zip(every, ends, strict=True) if era.number in found.eras]
    return tuple(CheckEra(f"era {era.number}", era.began, end) for era, end in held)


def _events(book: Book, found: ControlChart) -> tuple[list[ChartEvent], list[str]]:
    """The events of the days that the checks cover, the latest where there are many, and what isn't drawn.

    A check is made with nothing before the fan: an event that names an obstacle and moves no results doesn't
    concern it.
    """
    first = min(found.dates)[:10]
    inside = [each for each in found.events if each.time[:10] >= first]
    own = [each for each in inside if each.new_era or not _names_obstacle(book, each.text)]
    left = len(inside) - len(own)
    earlier = max(0, len(own) - MOST_EVENTS)
    notes = [f"{wording.plural(left, 'event').capitalize()} at an obstacle not drawn."] if left else []
    notes += [f"{wording.plural(earlier, 'earlier event').capitalize()} not drawn."] if earlier else []
    return own[-MOST_EVENTS:], notes


def _names_obstacle(book: Book, text: str) -> bool:
    names = {each.obstacle.casefold() for each in book.obstacles.values()}
    return not names.isdisjoint(re.findall(r"[\w-]+", text.casefold()))


def _signals(found: ControlChart) -> list[tuple[str, str]]:
    return [
        (date[:10], ", ".join(each.value for each in signals))
        for date, signals in zip(found.dates, found.signals, strict=True)
        if signals
    ]


def _title(found: ControlChart, rig: str, lines: int) -> str:
    """The finding: quiet, signalling, or not known yet. `lines` were looked at, 0 for the one asked for."""
    signals, name = _signals(found), f"rig {rig}" if rig else "the rig"
    if signals:
        date, words = signals[-1]
        more = f", and {wording.plural(len(signals) - 1, 'signal')} before" if len(signals) > 1 else ""
        return f"Check {name}: {words} on {date}{more}"
    subject = name[0].upper() + name[1:]
    if not found.established:
        held = wording.count(found.eras.count(found.eras[-1]))
        return f"{subject}: limits are not established, {held} of {wording.count(ESTABLISHED)} checks"
    checks = wording.plural(len(found.dates), "check")
    if not lines:
        return f"{subject}: {checks} of {measure_named(found.what).title.lower()}, no signal"
    where = f" in {wording.count(lines)} lines" if lines > 1 else ""
    return f"{subject} is in control: {checks}, no signal{where}"


def _notes(found: ControlChart) -> tuple[str, ...]:
    before = sum(each is None for each in found.limits)
    notes = []
    if before:
        notes.append(
            f"Open marks: the first {ESTABLISHED} checks of an era, by which its limits are established; they are"
            " judged by none."
        )
    return tuple(notes)


def _alt(found: ControlChart, what: str, rig: str, events: list[ChartEvent]) -> str:
    return wording.control_alt(
        f"{what} of {found.fan} on {rig or 'the rig'}",
        len(found.dates),
        [f"{words} on {date}" for date, words in _signals(found)],
        [f"{each.time[:10]} {each.text}" for each in events],
    )
