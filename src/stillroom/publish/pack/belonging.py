"""Which charts belong into the pack of a release: each with the reason why."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeVar

from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.charts.series import RankedBars
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.field import Asked
from stillroom.lab.pictures import claim_pictures, multiples
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.heat.settling_pictures import settling_chart
from stillroom.lab.pictures.kinds import TRADES, Kind
from stillroom.lab.pictures.obstacle_pictures import obstacle_curves
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.lab.pictures.response_pictures import response_chart
from stillroom.lab.pictures.sound.level_pictures import level_chart
from stillroom.lab.through import through_of
from stillroom.measures import Condition
from stillroom.publish.contents import Contents, Published
from stillroom.publish.pack import ranked
from stillroom.publish.pack.choosing import WIDE_BARS

Drawn = TypeVar("Drawn", bound=Chart)

_DAY = re.compile(r" · \d{4}-\d\d-\d\d(?= · |$)")

MOST_LOADS = 4
"""The most load lines of the curves of the fan under review."""

ALL_LAYOUTS = (Layout.ARTICLE, Layout.WIDE, Layout.SQUARE)


@dataclass(frozen=True)
class Belongs:
    """One chart of the pack.

    Parameters
    ----------
    name : the stem of its files. kind : of chart. why : it belongs. slug : of the published measure that it shows; ""
        where it shows several, or none. question : what is asked, in place of the finding; "" where nothing is.
    pages : what stands on each layout. whole : what the page with the table shows. note : what was chosen, in words.
    """

    name: str
    kind: Kind
    why: str
    slug: str
    question: str
    pages: dict[Layout, Chart]
    whole: Chart
    note: str = ""

    @property
    def is_revealed(self) -> bool:
        """Whether its bars can be shown one by one."""
        wide = self.pages.get(Layout.WIDE)
        return isinstance(wide, RankedBars) and bool(wide.bars)


@dataclass(frozen=True)
class Missing:
    """A chart that would belong but can't be drawn, and why not."""

    name: str
    kind: Kind
    why: str


@dataclass(frozen=True)
class _Wanted:
    """A chart that belongs, and how its series is had: charts by the most bars that they may have."""

    name: str
    kind: Kind
    why: str
    series: Callable[[], Chart]


def belonging(contents: Contents) -> tuple[list[Belongs], list[Missing]]:
    """The charts of a release, in the order in which they are listed, and those that couldn't be had."""
    found = [_bars(contents, each) for each in contents.published if each.ranking.standings]
    missing: list[Missing] = []
    for wanted in (*_across(contents), *_trades(contents), *_others(contents), *_of_highlight(contents)):
        try:
            chart = _dated(wanted.series(), contents)
        except StillroomError as error:
            missing.append(Missing(wanted.name, wanted.kind, error.sentence()))
            continue
        pages = dict.fromkeys(ALL_LAYOUTS, chart)
        found.append(Belongs(wanted.name, wanted.kind, wanted.why, "", "", pages, chart))
    return found, missing


def _bars(contents: Contents, one: Published) -> Belongs:
    """The bars of a published ranking; wide and square pages hold ten, the others more."""
    few, note = ranked.bars(contents, one, WIDE_BARS)
    many, _ = ranked.bars(contents, one, Layout.ARTICLE.page.bars)
    every, _ = ranked.bars(contents, one, len(one.ranking.standings) + len(one.ranking.excluded))
    few, many, every = (_dated(each, contents) for each in (few, many, every))
    return Belongs(
        name=one.slug,
        kind=Kind.BARS,
        why=f"published: {one.words}",
        slug=one.slug,
        question=one.title,
        pages={Layout.ARTICLE: many, Layout.WIDE: few, Layout.SQUARE: few},
        whole=every,
        note=note,
    )


# --- several published rankings together ----------------------------------------------------------------


def _across(contents: Contents) -> Iterator[_Wanted]:
    """Panels of published rankings that differ in nothing but the obstacle, or in nothing but the noise limit."""
    for apart, kept, by, words in (
        (multiples.through_obstacles, _without_obstacle, "obstacle", "through several obstacles"),
        (multiples.at_limits, _without_limit, "limit", "at several noise limits"),
    ):
        groups: dict[Asked, list[Published]] = {}
        for one in contents.published:
            key = kept(one.asked)
            if key is not None and one.ranking.standings:
                groups.setdefault(key, []).append(one)
        for group in groups.values():
            if 1 < len(group) <= multiples.MOST:
                yield _Wanted(
                    f"panels-by-{by}-{group[0].slug}",
                    Kind.MULTIPLES,
                    f"published {words}: {'; '.join(each.words for each in group)}",
                    partial(_panels, contents, group, apart),
                )


def _without_obstacle(asked: Asked) -> Asked | None:
    """What is asked apart from the obstacle; None where there is none."""
    if not asked.condition.obstacle:
        return None
    return replace(asked, condition=replace(asked.condition, obstacle=""))


def _without_limit(asked: Asked) -> Asked | None:
    """What is asked apart from the noise limit; None where none in dBA is told."""
    if asked.condition.noise is None:
        return None
    return replace(asked, condition=replace(asked.condition, noise=None))


def _panels(contents: Contents, group: Sequence[Published], apart: Callable[..., multiples.Across]) -> Chart:
    found = [each.ranking for each in group]
    across = apart(contents.book, found)
    return multiples.panels(contents.book, found, group[0].measure, contents.highlight, across=across)[0]


def _trades(contents: Contents) -> Iterator[_Wanted]:
    """What a noise limit costs: airflow, or heat, against noise, where it is published at a limit."""
    groups: dict[Asked, list[Published]] = {}
    for one in contents.published:
        key = _without_limit(one.asked)
        if key is not None and one.ranking.standings and one.measure.name in TRADES:
            groups.setdefault(key, []).append(one)
    for asked, group in groups.items():
        yield _Wanted(
            f"tradeoff-{group[0].slug}",
            Kind.TRADEOFF,
            f"published at a noise limit: {'; '.join(each.words for each in group)}",
            partial(_trade, contents, asked, group),
        )


def _trade(contents: Contents, asked: Asked, group: Sequence[Published]) -> Chart:
    found = sorted(
        ((each.asked.condition.noise or 0.0, each.ranking) for each in group), key=lambda pair: pair[0]
    )
    lab, book, graph, _ = contents.whole
    return TRADES[asked.measure.name](lab, book, graph, asked, found, contents.highlight)[0]


# --- what stands beside the rankings -----------------------------------------------------------------------


def _others(contents: Contents) -> Iterator[_Wanted]:
    """What the boxes say, and what the air goes through."""
    lab, book, graph, _ = contents.whole
    if contents.claims:
        yield _Wanted(
            "claims",
            Kind.CLAIMS,
            "what the boxes say, checked",
            lambda: claim_pictures.claim_chart(book, contents.claims, contents.highlight)[0],
        )
    through = _obstacles(contents)
    if through:
        yield _Wanted(
            "obstacles",
            Kind.OBSTACLES,
            "what the published airflow goes through",
            lambda: obstacle_curves(lab, book, graph, through)[0],
        )


def _obstacles(contents: Contents) -> list[str]:
    """The measured obstacles that published measures go through, each once."""
    _, book, graph, _ = contents.whole
    told = dict.fromkeys(each.asked.condition.obstacle for each in contents.published)
    return list(dict.fromkeys(node.subject for each in told for node in through_of(book, graph, each).nodes))


def _of_highlight(contents: Contents) -> Iterator[_Wanted]:
    """What is known of the fan under review."""
    fan = contents.highlight
    if not fan:
        return
    lab, book, graph, _ = contents.whole
    through = list(
        dict.fromkeys(
            each.asked.condition.obstacle for each in contents.published if each.asked.condition.obstacle
        )
    )[:MOST_LOADS]
    limits = contents.settings.sound.limits
    series: dict[Kind, Callable[[], Chart]] = {
        Kind.CURVES: lambda: curves(lab, book, graph, (), fan, through, Condition())[0],
        Kind.LEVELS: lambda: level_chart(lab, book, graph, fan, (), "", limits)[0],
        Kind.RESPONSE: lambda: _response(contents),
        Kind.SETTLING: lambda: settling_chart(lab, book, graph, fan, "")[0],
    }
    for kind, had in series.items():
        yield _Wanted(plain_name(kind, fan), kind, "the fan under review", had)


def _response(contents: Contents) -> Chart:
    """How the fan under review answers a duty; a voltage, where it was only tested so."""
    lab, book, graph, _ = contents.whole
    try:
        return response_chart(lab, book, graph, contents.highlight, volts=False)[0]
    except NotPossible:
        return response_chart(lab, book, graph, contents.highlight, volts=True)[0]


def _dated(chart: Drawn, contents: Contents) -> Drawn:
    """A chart with the release's day in its footer, not that of its drawing, and the release's name."""
    words = f" · release {contents.name} · {contents.date}"
    return replace(chart, footer=_DAY.sub(lambda _: words, chart.footer, count=1))
