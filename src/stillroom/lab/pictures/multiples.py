"""Airflow through each obstacle: rankings side by side as panels of one chart, or as one card each.

In panels a fan keeps its row in all of them, in the order of the first panel, so that a reader follows it across;
on cards, which are seen one after the other, fans stand in the order of each card. All share one axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stillroom import wording
from stillroom.charts.further_series import PanelChart
from stillroom.charts.series import Bar, RankedBars
from stillroom.compare.standing import Ranking
from stillroom.errors import BadInput
from stillroom.lab.book import Book
from stillroom.lab.pictures.condition_words import file_parts, of_each, speed_phrase
from stillroom.lab.pictures.picture_words import described, footer, plain_name, versions_in_words
from stillroom.lab.pictures.pictures import bar_of, bars, subtitle_words
from stillroom.measures import Measure

MOST = 12
"""The most obstacles of one chart."""


def panels(
    book: Book, found: Sequence[Ranking], measure: Measure, fan: str = "", fans: int = 0
) -> tuple[PanelChart, str]:
    """Rankings through several obstacles as small multiples, and the name of their files.

    Parameters
    ----------
    found : one ranking an obstacle, in the order wanted. measure : of all. fan : under review.
    fans : how many fans at most, the first in the order of the first panel; 0 for all.

    Raises
    ------
    BadInput : fewer than two rankings, or more than a chart holds.
    """
    _enough(found)
    order = _order(found)
    shown = order[:fans] if fans else order
    if fan and fan in order and fan not in shown:
        shown = [*shown[:-1], fan]
    first = versions_in_words(str(found[0].conditions["obstacle"]))
    unit, one = found[0].unit, found[0]
    left = len(order) - len(shown)
    picture = PanelChart(
        title=_title(found, measure) + of_each(one.conditions),
        subtitle=f"{measure.title}, {unit} {speed_phrase(one.conditions)}{subtitle_words(one)}"
        f"; ordered as through {first}" + (f"; {left} more not shown" if left else ""),
        cue=wording.direction_cue(larger_is_better=True),
        footer=footer(book.settings, f"{measure.name} {one.version}", _basis(found)),
        panels=tuple(_panel(book, each, shown, fan, measure) for each in found),
        alt=_alt(book, found, measure),
    )
    obstacles = (str(each.conditions["obstacle"]) for each in found)
    return picture, plain_name(measure.name, "panels", *obstacles, *file_parts(one.conditions))


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
        bars(book.settings, each, measure, fan, fans, described(book, str(each.conditions["obstacle"])))
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
        expected = f"2 to {MOST}: `references` in lab.toml, or --through once for each"
        raise BadInput("obstacles of the chart", found=str(len(found)), expected=expected)


def _order(found: Sequence[Ranking]) -> list[str]:
    """Fans in the order of the first ranking, then those that only later ones rank."""
    return list(dict.fromkeys(each.fan for ranking in found for each in ranking.standings))


def _panel(book: Book, found: Ranking, order: Sequence[str], fan: str, measure: Measure) -> RankedBars:
    """One panel: the fans in the common order; one that has no value here keeps its row, with why."""
    here = {each.fan: each for each in found.standings}
    why = {each.fan: each.why for each in found.excluded}
    rows = tuple(
        bar_of(here[name], found, fan)
        if name in here
        else Bar(name, 0.0, None, None, note=why.get(name, "not ranked"), accent=name == fan, is_missing=True)
        for name in order
    )
    return RankedBars(
        title=described(book, str(found.conditions["obstacle"])),
        subtitle="",
        cue="",
        footer="",
        unit=found.unit,
        bars=rows,
        measure=measure.title,
    )


def _title(found: Sequence[Ranking], measure: Measure) -> str:
    """The finding: which fans may be the best everywhere, or that it depends on the obstacle."""
    among = [each for each in _order(found) if all(each in ranking.best for ranking in found)]
    every = f"all {wording.count(len(found))} obstacles" if len(found) > 2 else "both obstacles"
    if len(among) == 1 and all(len(ranking.best) == 1 for ranking in found):
        return f"{wording.isolate(among[0])} {measure.claim} through {every}"
    by = "" if measure.name == "airflow" else f" by {measure.title.lower()}"
    if among and len(among) <= 2:
        may = "may be" if len(among) == 1 else "may each be"
        return f"{wording.listed(among)} {may} the best{by} through {every}"
    if among:
        return f"{wording.plural(len(among), 'fan').capitalize()} may be the best{by} through {every}"
    return f"No fan is among the best{by} through {every}"


def _basis(found: Sequence[Ranking]) -> str:
    mountings = max(sum(each.mountings for each in ranking.standings) for ranking in found)
    return f"{wording.plural(mountings, 'mounting')}, lines show 95 %"


def _alt(book: Book, found: Sequence[Ranking], measure: Measure) -> str:
    parts = []
    for each in found:
        if not each.standings:
            continue
        first, last = each.standings[0], each.standings[-1]
        reach = wording.spread(last.value, first.value, each.unit) if last.value < first.value else first.fan
        best = f"{wording.listed(each.best)} may be the best" if each.best else "no best"
        parts.append((described(book, str(each.conditions["obstacle"])), f"{reach}, {best}"))
    return wording.panels_alt(measure.title.lower(), len(_order(found)), parts)
