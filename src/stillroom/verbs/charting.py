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
from stillroom.errors import BadInput, NotPossible
from stillroom.lab.book import Book, open_book
from stillroom.lab.claims import check_claims
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked
from stillroom.lab.findings import open_blocks
from stillroom.lab.pictures import claim_pictures, multiples, pictures
from stillroom.lab.pictures.collapse_pictures import collapse
from stillroom.lab.pictures.control_picture import control
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.obstacle_pictures import measured_obstacles, obstacle_curves
from stillroom.store.lab import Lab
from stillroom.verbs.answers import asked, ranking
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


@dataclass(frozen=True)
class Wish:
    """What a chart is asked for.

    Parameters
    ----------
    question : measure, condition, size and fans. through : obstacles, as told. fan : under review.
    fans : how many at most, 0 for as many as the kind holds. rig : whose checks. watched : which measure of them.
    """

    question: Asked
    through: tuple[str, ...]
    fan: str
    fans: int
    progress: Progress
    rig: str = ""
    watched: str = ""


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
    *,
    measure: str = "",
    through: tuple[str, ...] = (),
    conditions: Conditions = USUAL,
    size: str = "",
    only: tuple[str, ...] = (),
    fan: str = "",
    fans: int = 0,
    rig: str = "",
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Draw a chart as PNG 3840 × 2160, SVG, a page that works from a file, with data table and alt text.

    Parameters
    ----------
    kind : bars (fans in order), curves (pressure against flow with load lines), collapse (all sweeps on one),
        obstacles (their pressure drop against flow), multiples (bars through each obstacle, as panels), cards
        (the same, one card each, 16:9 and square), claims (the box against what was measured) or control (the
        reference fan's checks of a rig).
    measure : of bars, multiples and cards, airflow where none is given; of control, the line with most signals.
    through : obstacles; one for bars, any number for the others; multiples, cards and obstacles
        take `references` of lab.toml where none is given.
    conditions : setting, system and air; each field is an option of the command line.
    size : the size class, such as '120 mm'.
    only : only these fans; one --only for each.
    fan : the fan under review: it carries the accent; the one whose sweeps are drawn by collapse.
    fans : how many fans at most, best first; 10 for bars and cards where none is given.
    rig : whose checks control draws, where there are several.
    out : the folder for the files; charts/ in the lab where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not 0 <= fans <= 30:
        raise BadInput("--fans", found=str(fans), expected="a number of fans from 1 to 30")
    if kind is Kind.BARS and len(through) > 1:
        raise BadInput("--through", found=", ".join(through), expected="one obstacle for bars")
    question = asked(measure or "airflow", through[0] if through else "", conditions, size, only)
    with open_lab(lab) as opened:
        made = _KINDS[kind](opened, Wish(question, through, fan, fans, progress, rig, measure))
        folder = out or opened.path / "charts"
    files = [draw(picture, folder, name, layouts=made.layouts) for picture, name in made.charts]
    return _said(made, files)


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


# --- the kinds --------------------------------------------------------------------------------------------


def _bars(lab: Lab, wish: Wish) -> Made:
    found = ranking(lab, wish.question, wish.progress)
    words = pictures.described(open_book(lab), wish.question.condition.obstacle)
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


def _rankings(lab: Lab, wish: Wish) -> tuple[Book, list[Any]]:
    """One ranking through each obstacle: those that are named, else the lab's references."""
    through = wish.through or lab.settings.references
    if len(through) < 2:
        raise NotPossible("panels", found=f"{len(through)} obstacles", expected=(
            "two or more: `references` in lab.toml, or --through once for each"))  # fmt: skip
    question = wish.question
    found = [
        ranking(lab, replace(question, condition=replace(question.condition, obstacle=each)), wish.progress)
        for each in through
    ]
    return open_book(lab), found


def _multiples(lab: Lab, wish: Wish) -> Made:
    book, found = _rankings(lab, wish)
    picture = multiples.panels(book, found, wish.question.measure, wish.fan, wish.fans)
    return Made((picture,), (Layout.ARTICLE, Layout.WIDE))


def _cards(lab: Lab, wish: Wish) -> Made:
    book, found = _rankings(lab, wish)
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


_KINDS: dict[Kind, Callable[[Lab, Wish], Made]] = {
    Kind.BARS: _bars,
    Kind.CURVES: _curves,
    Kind.COLLAPSE: _collapse,
    Kind.OBSTACLES: _obstacles,
    Kind.MULTIPLES: _multiples,
    Kind.CARDS: _cards,
    Kind.CLAIMS: _claims,
    Kind.CONTROL: _control,
}
