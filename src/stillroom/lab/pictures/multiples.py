"""Rankings through each obstacle, or at each noise limit, as panels of one chart, or as one card each.

In panels a fan keeps its row in all of them, in the order of the first panel, so that a reader follows it across;
on cards, which are seen one after the other, fans stand in the order of each card. All share one axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stillroom import wording
from stillroom.charts.further_series import PanelChart
from stillroom.charts.series import Bar, RankedBars
from stillroom.compare.standing import Ranking
from stillroom.errors import BadInput
from stillroom.lab.book import Book
from stillroom.lab.pictures.condition_words import file_parts, of_each, speed_phrase
from stillroom.lab.pictures.picture_words import described, footer, plain_name, versions_in_words
from stillroom.lab.pictures.pictures import (
    bar_of,
    bars,
    cue_of,
    is_too_loud,
    methods_of,
    on_the_bar,
    subtitle_words,
)
from stillroom.lab.sound.level_words import TOO_LOUD, TOPS_OUT
from stillroom.measures import Measure

MOST = 12
"""The most obstacles of one chart."""


@dataclass(frozen=True)
class Across:
    """What the panels of one chart differ in.

    Parameters
    ----------
    heading : of the table's column. titles : of the panels. places : the same in a sentence ("through rad27").
    every : all together, as a title ends ("through all three obstacles"). those : as they are counted in the alt text.
    common : what they have in common, as a subtitle goes on. parts : of the name of the files.
    """

    heading: str
    titles: tuple[str, ...]
    places: tuple[str, ...]
    every: str
    those: str
    common: str
    parts: tuple[str, ...]


def through_obstacles(book: Book, found: Sequence[Ranking]) -> Across:
    """Panels through one obstacle each."""
    names = [str(each.conditions["obstacle"]) for each in found]
    return Across(
        "Through",
        tuple(described(book, each) for each in names),
        tuple(f"through {described(book, each)}" for each in names),
        f"through {_all(len(found), 'obstacle')}",
        f"through {wording.plural(len(found), 'obstacle')}",
        "",
        tuple(names),
    )


def at_limits(book: Book, found: Sequence[Ranking]) -> Across:
    """Panels at one noise limit each, through one obstacle or in free air."""
    limits = [speed_phrase(each.conditions) for each in found]
    obstacle = str(found[0].conditions["obstacle"] or "")
    return Across(
        "Limit",
        tuple(each[0].upper() + each[1:] for each in limits),
        tuple(limits),
        f"at {_all(len(found), 'limit')}",
        f"at {wording.plural(len(found), 'limit')}",
        f"through {described(book, obstacle)}" if obstacle else "",
        (obstacle, *(str(each.conditions["speed"]).partition(" at ")[0] for each in found)),
    )


def _all(count: int, noun: str) -> str:
    return f"all {wording.count(count)} {noun}s" if count > 2 else f"both {noun}s"


def panels(
    book: Book,
    found: Sequence[Ranking],
    measure: Measure,
    fan: str = "",
    fans: int = 0,
    *,
    across: Across | None = None,
) -> tuple[PanelChart, str]:
    """Rankings through several obstacles, or at several limits, as small multiples, and the name of their files.

    Parameters
    ----------
    found : one ranking a panel, in the order wanted. measure : of all. fan : under review.
    fans : how many fans at most, the first in the order of the first panel; 0 for all.
    across : what the panels differ in; their obstacles where it isn't given.

    Raises
    ------
    BadInput : fewer than two rankings, or more than a chart holds.
    """
    _enough(found)
    across = across or through_obstacles(book, found)
    order = _order(found)
    shown = order[:fans] if fans else order
    if fan and fan in order and fan not in shown:
        shown = [*shown[:-1], fan]
    unit, one = found[0].unit, found[0]
    left = len(order) - len(shown)
    common = f", {across.common}" if across.common else f" {speed_phrase(one.conditions)}"
    picture = PanelChart(
        title=_title(found, measure, across.every) + of_each(one.conditions),
        subtitle=f"{measure.title}, {unit}{common}{subtitle_words(one)}"
        f"; ordered as {_first(across)}" + (f"; {left} more not shown" if left else ""),
        cue=cue_of(measure),
        footer=footer(book.settings, methods_of(one, measure), _basis(found)),
        panels=tuple(
            _panel(each, title, shown, fan, measure) for each, title in zip(found, across.titles, strict=True)
        ),
        notes=_notes(found, across, shown),
        alt=_alt(found, measure, across),
        heading=across.heading,
    )
    parts = file_parts(one.conditions)[0 if across.heading == "Through" else 1 :]
    return picture, plain_name(measure.name, "panels", *across.parts, *parts)


def _notes(found: Sequence[Ranking], across: Across, shown: Sequence[str]) -> tuple[str, ...]:
    """What bars of panels have no room for: the fans that top out below a limit, and where."""
    notes = []
    for ranking, place in zip(found, across.places, strict=True):
        out = [
            f"{wording.isolate(each.fan)} {words}"
            for each in ranking.standings
            if each.fan in shown
            for words in (on_the_bar(mark) for mark in each.marks)
            if words.startswith(TOPS_OUT)
        ]
        notes += [f"{place[0].upper()}{place[1:]}: {wording.listed(out)}."] if out else []
    return tuple(notes)


def _first(across: Across) -> str:
    """The first panel, by which fans are ordered, in few words."""
    return (
        versions_in_words(f"through {across.parts[0]}") if across.heading == "Through" else across.places[0]
    )


def cards(
    book: Book, found: Sequence[Ranking], measure: Measure, fan: str = "", fans: int = 10
) -> list[tuple[RankedBars, str]]:
    """The same rankings as one chart each, all on one axis, and the names of their files.

    Raises
    ------
    BadInput : fewer than two rankings, or more than a chart holds. NotPossible : one without a fan.
    """
    _enough(found)
    made = [
        bars(book.settings, each, measure, fan, fans, described(book, str(each.conditions["obstacle"] or "")))
        for each in found
    ]
    every = tuple(bar for picture, _ in made for bar in picture.bars)
    count = wording.number(len(made))
    return [
        (
            replace(
                picture,
                beside=every,
                footer=f"Card {index} of {count}, one axis for all · {picture.footer}",
            ),
            plain_name("card", wording.number(index), name),
        )
        for index, (picture, name) in enumerate(made, start=1)
    ]


def _enough(found: Sequence[Ranking]) -> None:
    if not 2 <= len(found) <= MOST:
        expected = (
            f"2 to {MOST}: `references` in lab.toml, or --through once for each; or --noise once for each"
        )
        raise BadInput("panels of the chart", found=str(len(found)), expected=expected)


def _order(found: Sequence[Ranking]) -> list[str]:
    """Fans in the order of the first ranking, then those that only later ones rank, then those that can't run so
    quiet in any.
    """
    ranked = [each.fan for ranking in found for each in ranking.standings]
    loud = [each.fan for ranking in found for each in ranking.excluded if is_too_loud(each.why)]
    return list(dict.fromkeys((*ranked, *loud)))


def _panel(found: Ranking, title: str, order: Sequence[str], fan: str, measure: Measure) -> RankedBars:
    """One panel: the fans in the common order; one that has no value here keeps its row, with why."""
    here = {each.fan: each for each in found.standings}
    why = {each.fan: TOO_LOUD if is_too_loud(each.why) else each.why for each in found.excluded}
    rows = tuple(
        bar_of(here[name], found, fan)
        if name in here
        else Bar(name, 0.0, None, None, note=why.get(name, "not ranked"), accent=name == fan, is_missing=True)
        for name in order
    )
    return RankedBars(
        title=title,
        subtitle="",
        cue="",
        footer="",
        unit=found.unit,
        bars=rows,
        measure=measure.title,
    )


def _title(found: Sequence[Ranking], measure: Measure, every: str) -> str:
    """The finding: which fans may be the best in every panel, or that it depends on the panel."""
    among = [each for each in _order(found) if all(each in ranking.best for ranking in found)]
    if len(among) == 1 and all(len(ranking.best) == 1 for ranking in found):
        return f"{wording.isolate(among[0])} {measure.claim} {every}"
    by = "" if measure.name == "airflow" else f" by {measure.title.lower()}"
    if among and len(among) <= 2:
        may = "may be" if len(among) == 1 else "may each be"
        return f"{wording.listed(among)} {may} the best{by} {every}"
    if among:
        return f"{wording.plural(len(among), 'fan').capitalize()} may be the best{by} {every}"
    return f"No fan is among the best{by} {every}"


def _basis(found: Sequence[Ranking]) -> str:
    mountings = max(sum(each.mountings for each in ranking.standings) for ranking in found)
    return f"{wording.plural(mountings, 'mounting')}, lines show 95 %"


def _alt(found: Sequence[Ranking], measure: Measure, across: Across) -> str:
    parts = []
    for each, place in zip(found, across.places, strict=True):
        if not each.standings:
            continue
        first, last = each.standings[0], each.standings[-1]
        reach = wording.spread(last.value, first.value, each.unit) if last.value < first.value else first.fan
        best = f"{wording.listed(each.best)} may be the best" if each.best else "no best"
        parts.append((place, f"{reach}, {best}"))
    return wording.panels_alt(measure.title.lower(), len(_order(found)), across.those, parts)
