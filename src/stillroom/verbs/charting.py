"""Charts: one definition each, drawn in the house's layouts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from stillroom.charts.draw import draw
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.compare.standing import Ranking
from stillroom.errors import BadInput, NotPossible
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import Book, open_book
from stillroom.lab.claims import check_claims
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, as_written
from stillroom.lab.pictures import claim_pictures, multiples, pictures
from stillroom.lab.pictures.collapse_pictures import collapse
from stillroom.lab.pictures.control_picture import control
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.heat.agreement_pictures import agreement_chart
from stillroom.lab.pictures.heat.settling_pictures import settling_chart
from stillroom.lab.pictures.heat.trade_heat import heat_trade_chart
from stillroom.lab.pictures.multiples import Across
from stillroom.lab.pictures.obstacle_pictures import measured_obstacles, obstacle_curves
from stillroom.lab.pictures.response_pictures import response_chart
from stillroom.lab.pictures.sound.level_pictures import level_chart
from stillroom.lab.pictures.sound.ramp_pictures import ramp_chart
from stillroom.lab.pictures.sound.spectrum_pictures import spectrum_chart
from stillroom.lab.pictures.sound.trade_pictures import trade_chart
from stillroom.lab.recipes import build_graph
from stillroom.measures import Condition, Origin
from stillroom.store.lab import Lab
from stillroom.verbs.answers import asked, ranking, rankings
from stillroom.verbs.conditions import USUAL, Conditions
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said, Table
from stillroom.verbs.up_to_date import up_to_date


class Kind(StrEnum):
    """The kinds of chart."""

    BARS = "bars"
    CURVES = "curves"
    COLLAPSE = "collapse"
    OBSTACLES = "obstacles"
    MULTIPLES = "multiples"
    CARDS = "cards"
    CLAIMS = "claims"
    CONTROL = "control"
    LEVELS = "levels"
    SPECTRUM = "spectrum"
    RAMP = "ramp"
    TRADEOFF = "tradeoff"
    SETTLING = "settling"
    AGREEMENT = "agreement"
    RESPONSE = "response"


@dataclass(frozen=True)
class Wish:
    """What a chart is asked for.

    Parameters
    ----------
    question : measure, condition, size and fans; without a noise limit where several were told.
    limits : conditions at each noise limit that was told, one without any where none was.
    through : obstacles, as told. fan : under review. fans : how many at most, 0 for as many as the kind holds.
    rig : whose checks. watched : which measure of them. weighted : whether a spectrum is A-weighted.
    """

    question: Asked
    limits: tuple[Condition, ...]
    through: tuple[str, ...]
    fan: str
    fans: int
    progress: Progress
    rig: str = ""
    watched: str = ""
    weighted: bool = True

    @property
    def levels(self) -> tuple[float, ...]:
        """The noise limits that were told [dB(A)].

        Raises
        ------
        BadInput : one in sone: these charts are in dBA.
        """
        told = [each for each in self.limits if each.is_limited]
        if any(each.noise is None for each in told):
            raise BadInput("--noise", found="a limit in sone", expected="limits in dBA for a chart of levels")
        return tuple(each.noise for each in told if each.noise is not None)


@dataclass(frozen=True)
class Made:
    """Charts with the names of their files, and what else is to be said."""

    charts: tuple[tuple[Chart, str], ...]
    layouts: tuple[Layout, ...] = (Layout.WIDE,)
    tables: tuple[tuple[str, Table], ...] = ()
    lines: tuple[str, ...] = ()
    data: tuple[tuple[str, Any], ...] = ()


def chart(
    kind: Kind = Kind.BARS,
    fan: str = "",
    *,
    measure: str = "",
    through: tuple[str, ...] = (),
    conditions: Conditions = USUAL,
    size: str = "",
    only: tuple[str, ...] = (),
    fans: int = 0,
    unweighted: bool = False,
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Draw a chart as PNG 3840 × 2160, SVG, a page that works from a file, with data table and alt text.

    Parameters
    ----------
    kind : bars (fans in order), curves (pressure against flow with load lines), collapse (all sweeps on one),
        obstacles (their pressure drop against flow), multiples (bars through each obstacle, or at each --noise, as
        panels), cards (the same, one card each, 16:9 and square), claims (the box against what was measured), control
        (the reference fan's checks of a rig), levels (level against speed with limits and speeds to avoid), spectrum
        (one-third octaves against the background), ramp (a spectrogram over a sweep of the speed), tradeoff
        (airflow against noise through an obstacle; heat with --measure heat), settling (a heat run against time),
        agreement (heat predicted from airflow against measured) or response (speed against duty or volts).
    fan : the fan under review: it carries the accent; the one that collapse, levels, spectrum, ramp, settling and
        response draw.
    measure : of bars, multiples, cards and tradeoff, airflow where none is given; of control, the line with most
        signals; of response, one of voltage draws it against volts.
    through : obstacles; one for bars and charts of sound, any number for the others; multiples, cards and obstacles
        take `references` of lab.toml where none is given (of heat the limits of lab.toml).
    conditions : setting, system and air; each field is an option of the command line.
    size : the size class, such as '120 mm'.
    only : only these fans; one --only for each.
    fans : how many fans at most, best first; 10 for bars and cards where none is given.
    unweighted : draw a spectrum as it is, not A-weighted.
    out : the folder for the files; charts/ in the lab where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not 0 <= fans <= 30:
        raise BadInput("--fans", found=str(fans), expected="a number of fans from 1 to 30")
    if kind in ONE_OBSTACLE and len(through) > 1:
        raise BadInput("--through", found=", ".join(through), expected=f"one obstacle for {kind}")
    several = kind in SEVERAL_LIMITS
    usual = replace(conditions, noise=()) if several and len(conditions.noise) != 1 else conditions
    obstacle = through[0] if through else ""
    question = asked(measure or "airflow", obstacle, usual, size, only)
    limits = tuple(each.through(obstacle) for each in conditions.at_each_limit()) if several else ()
    wish = Wish(question, limits, through, fan, fans, progress, conditions.rig, measure, not unweighted)
    with open_lab(lab) as opened:
        made = _KINDS[kind](opened, _as_written(opened, wish))
        folder = out or opened.path / "charts"
    files = [draw(picture, folder, name, layouts=made.layouts) for picture, name in made.charts]
    return _said(made, files)


def _as_written(lab: Lab, wish: Wish) -> Wish:
    """The same with the names of fans as the lab writes them."""
    if not (wish.fan or wish.question.only):
        return wish
    book = open_book(lab)
    fan, *only = as_written(book, build_graph(book), (wish.fan, *wish.question.only))
    return replace(wish, fan=fan, question=replace(wish.question, only=tuple(only)))


def _said(made: Made, files: list[tuple[Path, ...]]) -> Said:
    pictures_made = [picture for picture, _ in made.charts]
    titles = [f"{each.title}." for each in pictures_made]
    told = [{"title": each.title, "alt": each.alt, "notes": _notes(each)} for each in pictures_made]
    first = told[0]
    return Said(
        titles[0],
        tables=made.tables,
        lines=(*titles[1:], *made.lines, *(note for each in told for note in each["notes"]),
               *(line for own in files for line in _files(own))),
        data={"files": [str(each) for own in files for each in own], **first, "charts": told, **dict(made.data)},
    )  # fmt: skip


def _files(files: tuple[Path, ...]) -> list[str]:
    """The pictures, and one line for what goes with them."""
    drawn = [str(each) for each in files if each.suffix in (".png", ".svg")]
    page, *others = (each for each in files if each.suffix not in (".png", ".svg"))
    words = {".csv": "the numbers", ".txt": "the picture in words"}
    beside = ", ".join(f"{each.suffix} ({words[each.suffix]})" for each in others)
    return [*drawn, f"{page}, beside it {beside}"]


def _notes(picture: Chart) -> list[str]:
    """What stands under a chart besides its footer: said in the answer too."""
    return list(getattr(picture, "notes", ()))


SEVERAL_LIMITS = frozenset({Kind.MULTIPLES, Kind.CARDS, Kind.LEVELS, Kind.TRADEOFF})
"""Kinds that take several noise limits."""

ONE_OBSTACLE = frozenset({Kind.BARS, Kind.LEVELS, Kind.SPECTRUM, Kind.RAMP, Kind.TRADEOFF})
"""Kinds that take one obstacle at the most."""


# --- the kinds --------------------------------------------------------------------------------------------


def _bars(lab: Lab, wish: Wish) -> Made:
    found = ranking(lab, wish.question, wish.progress)
    obstacle = wish.question.condition.obstacle or str(found.conditions["obstacle"] or "")
    words = pictures.described(open_book(lab), obstacle)
    picture = pictures.bars(lab.settings, found, wish.question.measure, wish.fan, wish.fans or 10, words)
    return Made((picture,))


def _curves(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    condition = replace(wish.question.condition, obstacle="")
    picture, name = curves(lab, book, graph, wish.question.only, wish.fan, wish.through, condition)
    left = "" if wish.question.only or wish.fan else picture.subtitle.rpartition("; ")[2]
    said = (f"Drawn: {left}; --only NAME draws others.",) if "fans" in left else ()
    return Made(((picture, name),), lines=said)


def _collapse(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    return Made((collapse(lab, book, graph, wish.fan),))


def _obstacles(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    made = obstacle_curves(lab, book, graph, wish.through)
    few = not wish.through and len(made[0].curves) < len(measured_obstacles(graph))
    return Made((made,), lines=("Drawn: the lab's references; --through NAME draws others.",) if few else ())


def _rankings(lab: Lab, wish: Wish) -> tuple[Book, list[Ranking], Across]:
    """One ranking at each of several noise limits (of heat, whose rig has its own radiator, those of lab.toml where
    none is told); else through each obstacle that is named, or the references.
    """
    question = wish.question
    limits = wish.limits
    if question.measure.origin is Origin.HEAT and not any(each.is_limited for each in limits):
        limits = tuple(replace(question.condition, noise=each) for each in lab.settings.sound.limits)
    if len(limits) > 1:
        if len(wish.through) > 1:
            raise BadInput(
                "panels", found="several limits and several obstacles", expected="several of one kind"
            )
        questions = [replace(question, condition=each) for each in limits]
        found = rankings(lab, questions, wish.progress)
        book = open_book(lab)
        return book, found, multiples.at_limits(book, found)
    through = wish.through or lab.settings.references
    if len(through) < 2:
        raise NotPossible("panels", found=f"{len(through)} obstacles", expected=(
            "two or more: `references` in lab.toml, or --through once for each; or --noise once for each"))  # fmt: skip
    questions = [replace(question, condition=replace(question.condition, obstacle=each)) for each in through]
    found = rankings(lab, questions, wish.progress)
    book = open_book(lab)
    return book, found, multiples.through_obstacles(book, found)


def _multiples(lab: Lab, wish: Wish) -> Made:
    book, found, across = _rankings(lab, wish)
    picture = multiples.panels(book, found, wish.question.measure, wish.fan, wish.fans, across=across)
    return Made((picture,), (Layout.ARTICLE, Layout.WIDE))


def _cards(lab: Lab, wish: Wish) -> Made:
    book, found, _ = _rankings(lab, wish)
    made = multiples.cards(book, found, wish.question.measure, wish.fan, wish.fans or 10)
    return Made(tuple(made), (Layout.WIDE, Layout.SQUARE))


def _claims(lab: Lab, wish: Wish) -> Made:
    book, graph, found = up_to_date(lab, wish.progress)
    only = wish.question.only or ((wish.fan,) if wish.fan else ())
    blocked = open_blocks(found, book.decisions)
    checks = check_claims(lab, book, graph, only=only, blocked=blocked, progress=wish.progress)
    picture = claim_pictures.claim_chart(book, checks, wish.fan)
    table = Table(
        claim_pictures.HEADERS, tuple(claim_pictures.claim_cells(each) for each in checks), right=(6,)
    )
    return Made(
        (picture,),
        tables=(("", table),),
        lines=(f"Verdicts: {claim_pictures.claim_counts(checks)}.",),
        data=(("claims", [claim_pictures.claim_data(each) for each in checks]),),
    )


def _control(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    return Made((control(lab, book, graph, wish.rig, wish.watched),))


def _levels(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    question = wish.question
    obstacle = question.condition.obstacle
    picture, name = level_chart(lab, book, graph, wish.fan, question.only, obstacle, wish.levels)
    few = "fans" in picture.subtitle.rpartition("; ")[2]
    return Made(
        ((picture, name),), lines=("Drawn: the first fans; --only NAME draws others.",) if few else ()
    )


def _spectrum(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    made = spectrum_chart(lab, book, graph, _one_fan(wish), wish.question.condition, weighted=wish.weighted)
    return Made((made,))


def _ramp(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    return Made((ramp_chart(lab, book, graph, _one_fan(wish), wish.question.condition.obstacle),))


def _one_fan(wish: Wish) -> str:
    """The fan of a chart of one."""
    return wish.fan or (wish.question.only[0] if wish.question.only else "")


def _tradeoff(lab: Lab, wish: Wish) -> Made:
    """Airflow against noise, or heat.

    Raises
    ------
    BadInput : another measure.
    """
    draw_trade = TRADES.get(wish.question.measure.name)
    if draw_trade is None:
        raise BadInput(
            "--measure", found=wish.question.measure.name, expected=f"{' or '.join(TRADES)} for a tradeoff"
        )
    question = replace(wish.question, condition=replace(wish.question.condition, noise=None, sone=None))
    limits = wish.levels or lab.settings.sound.limits
    questions = [replace(question, condition=replace(question.condition, noise=each)) for each in limits]
    found = list(zip(limits, rankings(lab, questions, wish.progress), strict=True))
    book = open_book(lab)
    return Made((draw_trade(lab, book, build_graph(book), question, found, wish.fan),))


TRADES = {"airflow": trade_chart, "heat": heat_trade_chart}
"""What stands against noise, by its measure."""


def _settling(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    return Made((settling_chart(lab, book, graph, _one_fan(wish), wish.rig),))


def _agreement(lab: Lab, wish: Wish) -> Made:
    book, graph, found = up_to_date(lab, wish.progress)
    return Made((agreement_chart(lab, book, graph, wish.fan, wish.rig, found),))


def _response(lab: Lab, wish: Wish) -> Made:
    book, graph, _ = up_to_date(lab, wish.progress)
    volts = wish.question.condition.volts is not None or "volt" in wish.watched
    return Made((response_chart(lab, book, graph, _one_fan(wish), volts=volts),))


_KINDS: dict[Kind, Callable[[Lab, Wish], Made]] = {
    Kind.BARS: _bars,
    Kind.CURVES: _curves,
    Kind.COLLAPSE: _collapse,
    Kind.OBSTACLES: _obstacles,
    Kind.MULTIPLES: _multiples,
    Kind.CARDS: _cards,
    Kind.CLAIMS: _claims,
    Kind.CONTROL: _control,
    Kind.LEVELS: _levels,
    Kind.SPECTRUM: _spectrum,
    Kind.RAMP: _ramp,
    Kind.TRADEOFF: _tradeoff,
    Kind.SETTLING: _settling,
    Kind.AGREEMENT: _agreement,
    Kind.RESPONSE: _response,
}
