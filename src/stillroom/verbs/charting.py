"""Charts: one definition each, drawn in the house's layouts."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from stillroom.charts.draw import draw
from stillroom.charts.further_series import Chart
from stillroom.errors import BadInput
from stillroom.lab.book import open_book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import as_written
from stillroom.lab.pictures import claim_pictures
from stillroom.lab.pictures.kinds import Kind, Made, Wish, made
from stillroom.lab.recipes import build_graph
from stillroom.lab.whole import worked_out
from stillroom.store.lab import Lab
from stillroom.verbs.answers import asked
from stillroom.verbs.conditions import USUAL, Conditions
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said, Table


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
        drawn = made(worked_out(opened, progress), kind, _as_written(opened, wish))
        folder = out or opened.path / "charts"
    files = [draw(picture, folder, name, layouts=drawn.layouts) for picture, name in drawn.charts]
    return _said(drawn, files)


def _as_written(lab: Lab, wish: Wish) -> Wish:
    """The same with the names of fans as the lab writes them."""
    if not (wish.fan or wish.question.only):
        return wish
    book = open_book(lab)
    fan, *only = as_written(book, build_graph(book), (wish.fan, *wish.question.only))
    return replace(wish, fan=fan, question=replace(wish.question, only=tuple(only)))


def _said(drawn: Made, files: list[tuple[Path, ...]]) -> Said:
    pictures_made = [picture for picture, _ in drawn.charts]
    titles = [f"{each.title}." for each in pictures_made]
    told = [{"title": each.title, "alt": each.alt, "notes": _notes(each)} for each in pictures_made]
    first = told[0]
    return Said(
        titles[0],
        tables=_tables(drawn),
        lines=(*titles[1:], *drawn.lines, *(note for each in told for note in each["notes"]),
               *(line for own in files for line in _files(own))),
        data={"files": [str(each) for own in files for each in own], **first, "charts": told, **_data(drawn)},
    )  # fmt: skip


def _tables(drawn: Made) -> tuple[tuple[str, Table], ...]:
    """The claims that were checked, as a table."""
    rows = tuple(claim_pictures.claim_cells(each) for each in drawn.checks)
    return (("", Table(claim_pictures.HEADERS, rows, right=(6,))),) if rows else ()


def _data(drawn: Made) -> dict[str, object]:
    """The claims that were checked, as data."""
    return {"claims": [claim_pictures.claim_data(each) for each in drawn.checks]} if drawn.checks else {}


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
