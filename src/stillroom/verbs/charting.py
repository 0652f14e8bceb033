"""Charts: one definition each, drawn in the house's layouts."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path

from stillroom.charts.further_series import Chart
from stillroom.errors import BadInput
from stillroom.lab import pictures
from stillroom.lab.book import open_book
from stillroom.lab.executor import Progress, silent
from stillroom.verbs.answers import asked, ranking
from stillroom.verbs.doors import open_lab, quantity, up_to_date
from stillroom.verbs.said import Said


class Kind(StrEnum):
    """The kinds of chart."""

    BARS = "bars"
    CURVES = "curves"
    COLLAPSE = "collapse"


def chart(
    kind: Kind = Kind.BARS,
    *,
    measure: str = "airflow",
    through: tuple[str, ...] = (),
    speed: str = "",
    size: str = "",
    only: tuple[str, ...] = (),
    fan: str = "",
    fans: int = 10,
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Draw a chart as PNG 3840 × 2160, SVG, a page that works from a file, with data table and alt text.

    Parameters
    ----------
    kind : bars (fans in order), curves (pressure against flow with load lines) or collapse (all sweeps on one).
    measure : of the bars.
    through : obstacles; one for bars, any number for curves.
    speed : a given speed, such as '1500 rpm'; full setting where none is given.
    size : the size class, such as '120 mm'.
    only : only these fans; one --only for each.
    fan : the fan under review: it carries the accent; the one whose sweeps are drawn by collapse.
    fans : how many bars at most, best first (10 for video).
    out : the folder for the files; charts/ in the lab where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not 1 <= fans <= 30:
        raise BadInput("--fans", found=str(fans), expected="a number of bars from 1 to 30")
    if kind is Kind.BARS and len(through) > 1:
        raise BadInput("--through", found=", ".join(through), expected="one obstacle for bars")
    picture: Chart
    with open_lab(lab) as opened:
        if kind is Kind.BARS:
            question = asked(measure, through[0] if through else "", speed, size, only)
            found = ranking(opened, question, progress)
            words = pictures.described(open_book(opened), question.condition.obstacle)
            picture, name = pictures.bars(opened.settings, found, question.measure, fan, fans, words)
        else:
            book, graph, _ = up_to_date(opened, progress)
            if kind is Kind.CURVES:
                given = quantity(speed, "--speed", "speed", "rpm")
                picture, name = pictures.curves(opened, book, graph, only, fan, through, given)
            else:
                picture, name = pictures.collapse(opened, book, graph, fan)
        folder = out or opened.path / "charts"
    files = pictures.save(picture, folder, name)
    return Said(
        f"{picture.title}.",
        lines=tuple(str(each) for each in files) + ((picture.alt,) if picture.alt else ()),
        data={"files": [str(each) for each in files], "title": picture.title, "alt": picture.alt},
    )
