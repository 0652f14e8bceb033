"""The kinds of chart, each made from a lab with everything worked out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.compare.claims import ClaimCheck
from stillroom.compare.standing import Ranking
from stillroom.errors import BadInput, NotPossible
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import Book
from stillroom.lab.claims import check_claims
from stillroom.lab.compared import compared, each_compared
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
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
from stillroom.lab.whole import Whole
from stillroom.measures import Condition, Origin


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
    """Charts with the names of their files, and what else is to be said: lines, and the claims that were checked."""

    charts: tuple[tuple[Chart, str], ...]
    layouts: tuple[Layout, ...] = (Layout.WIDE,)
    lines: tuple[str, ...] = ()
    checks: tuple[ClaimCheck, ...] = ()


def made(whole: Whole, kind: Kind, wish: Wish) -> Made:
    """The charts of a kind.

    Raises
    ------
    NotPossible, UnknownThing, BadInput : what is wished can't be drawn, with why.
    """
    return _KINDS[kind](whole, wish)


def _bars(whole: Whole, wish: Wish) -> Made:
    found = compared(whole, wish.question, wish.progress).ranking
    obstacle = wish.question.condition.obstacle or str(found.conditions["obstacle"] or "")
    words = pictures.described(whole.again().book, obstacle)
    picture = pictures.bars(
        whole.lab.settings, found, wish.question.measure, wish.fan, wish.fans or 10, words
    )
    return Made((picture,))


def _curves(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    condition = replace(wish.question.condition, obstacle="")
    picture, name = curves(lab, book, graph, wish.question.only, wish.fan, wish.through, condition)
    left = "" if wish.question.only or wish.fan else picture.subtitle.rpartition("; ")[2]
    said = (f"Drawn: {left}; --only NAME draws others.",) if "fans" in left else ()
    return Made(((picture, name),), lines=said)


def _collapse(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    return Made((collapse(lab, book, graph, wish.fan),))


def _obstacles(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    drawn = obstacle_curves(lab, book, graph, wish.through)
    few = not wish.through and len(drawn[0].curves) < len(measured_obstacles(graph))
    return Made((drawn,), lines=("Drawn: the lab's references; --through NAME draws others.",) if few else ())


def _rankings(whole: Whole, wish: Wish) -> tuple[Book, list[Ranking], Across]:
    """One ranking at each of several noise limits (of heat, whose rig has its own radiator, those of lab.toml where
    none is told); else through each obstacle that is named, or the references.
    """
    question = wish.question
    limits = wish.limits
    if question.measure.origin is Origin.HEAT and not any(each.is_limited for each in limits):
        limits = tuple(replace(question.condition, noise=each) for each in whole.lab.settings.sound.limits)
    if len(limits) > 1:
        if len(wish.through) > 1:
            raise BadInput(
                "panels", found="several limits and several obstacles", expected="several of one kind"
            )
        questions = [replace(question, condition=each) for each in limits]
        found = each_compared(whole, questions, wish.progress)
        book = whole.again().book
        return book, found, multiples.at_limits(book, found)
    through = wish.through or whole.lab.settings.references
    if len(through) < 2:
        raise NotPossible("panels", found=f"{len(through)} obstacles", expected=(
            "two or more: `references` in lab.toml, or --through once for each; or --noise once for each"))  # fmt: skip
    questions = [replace(question, condition=replace(question.condition, obstacle=each)) for each in through]
    found = each_compared(whole, questions, wish.progress)
    book = whole.again().book
    return book, found, multiples.through_obstacles(book, found)


def _multiples(whole: Whole, wish: Wish) -> Made:
    book, found, across = _rankings(whole, wish)
    picture = multiples.panels(book, found, wish.question.measure, wish.fan, wish.fans, across=across)
    return Made((picture,), (Layout.ARTICLE, Layout.WIDE))


def _cards(whole: Whole, wish: Wish) -> Made:
    book, found, _ = _rankings(whole, wish)
    drawn = multiples.cards(book, found, wish.question.measure, wish.fan, wish.fans or 10)
    return Made(tuple(drawn), (Layout.WIDE, Layout.SQUARE))


def _claims(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, found = whole
    only = wish.question.only or ((wish.fan,) if wish.fan else ())
    blocked = open_blocks(found, book.decisions)
    checks = check_claims(lab, book, graph, only=only, blocked=blocked, progress=wish.progress)
    picture = claim_pictures.claim_chart(book, checks, wish.fan)
    return Made(
        (picture,), lines=(f"Verdicts: {claim_pictures.claim_counts(checks)}.",), checks=tuple(checks)
    )


def _control(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    return Made((control(lab, book, graph, wish.rig, wish.watched),))


def _levels(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    question = wish.question
    obstacle = question.condition.obstacle
    picture, name = level_chart(lab, book, graph, wish.fan, question.only, obstacle, wish.levels)
    few = "fans" in picture.subtitle.rpartition("; ")[2]
    return Made(
        ((picture, name),), lines=("Drawn: the first fans; --only NAME draws others.",) if few else ()
    )


def _spectrum(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    drawn = spectrum_chart(lab, book, graph, _one_fan(wish), wish.question.condition, weighted=wish.weighted)
    return Made((drawn,))


def _ramp(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    return Made((ramp_chart(lab, book, graph, _one_fan(wish), wish.question.condition.obstacle),))


def _one_fan(wish: Wish) -> str:
    """The fan of a chart of one."""
    return wish.fan or (wish.question.only[0] if wish.question.only else "")


def _tradeoff(whole: Whole, wish: Wish) -> Made:
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
    limits = wish.levels or whole.lab.settings.sound.limits
    questions = [replace(question, condition=replace(question.condition, noise=each)) for each in limits]
    found = list(zip(limits, each_compared(whole, questions, wish.progress), strict=True))
    book = whole.again().book
    return Made((draw_trade(whole.lab, book, whole.graph, question, found, wish.fan),))


TRADES = {"airflow": trade_chart, "heat": heat_trade_chart}
"""What stands against noise, by its measure."""


def _settling(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    return Made((settling_chart(lab, book, graph, _one_fan(wish), wish.rig),))


def _agreement(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, found = whole
    return Made((agreement_chart(lab, book, graph, wish.fan, wish.rig, found),))


def _response(whole: Whole, wish: Wish) -> Made:
    lab, book, graph, _ = whole
    volts = wish.question.condition.volts is not None or "volt" in wish.watched
    return Made((response_chart(lab, book, graph, _one_fan(wish), volts=volts),))


_KINDS: dict[Kind, Callable[[Whole, Wish], Made]] = {
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
