"""Drawing a pack's pages: each a task that any process can do, its files kept as one bundle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from stillroom.charts.draw import ALL_THEMES, html, png, set_page, svg, unchecked
from stillroom.charts.fonts import clean
from stillroom.charts.frame import Sheet
from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.charts.reveal import reveal_svg, taken_apart
from stillroom.charts.reveal_frames import frames
from stillroom.charts.series import RankedBars
from stillroom.charts.table import table_of
from stillroom.errors import BadInput
from stillroom.publish.pack.kept import keep, key_of


class Sort(Enum):
    """What a task draws: pictures of a page, with the page to read and its table, or with the reveal set."""

    PICTURES = "pictures"
    READ = "read"
    REVEAL = "reveal"


@dataclass(frozen=True)
class Task:
    """One page of one chart.

    Parameters
    ----------
    sort : what is drawn. name : the stem of its files. layout : of pictures. chart : what is drawn.
    whole : what the table holds. question : of a reveal set. bundle : where the files are kept.
    """

    sort: Sort
    name: str
    layout: Layout
    chart: Chart
    whole: Chart
    question: str
    bundle: Path


def key_of_task(sort: Sort, name: str, layout: Layout, chart: Chart, whole: Chart, question: str) -> str:
    """The key under which a task's files are kept."""
    table = whole if sort is Sort.READ else None
    return key_of(f"{sort.value} {layout.name}", name, chart, table, question if sort is Sort.REVEAL else "")


def draw_task(task: Task) -> tuple[Path, str]:
    """Draw a page and keep its files.

    Returns
    -------
    (where they are kept, "" or why the page can't hold the chart).
    """
    try:
        with unchecked():
            files = _SORTS[task.sort](task)
    except BadInput as error:
        return task.bundle, error.sentence()
    keep(task.bundle, files)
    return task.bundle, ""


def _pictures(task: Task) -> Mapping[str, bytes]:
    return _pictures_of(task, set_page(task.chart, task.layout))


def _pictures_of(task: Task, sheet: Sheet) -> dict[str, bytes]:
    made: dict[str, bytes] = {}
    for theme in ALL_THEMES:
        stem = f"{task.name}-{task.layout.page.name}-{theme.value}"
        made[f"{stem}.png"] = png(sheet, theme)
        made[f"{stem}.svg"] = svg(sheet, theme).encode()
    return made


def _read(task: Task) -> Mapping[str, bytes]:
    whole, sheet = task.whole, set_page(task.chart, task.layout)
    return _pictures_of(task, sheet) | {
        f"{task.name}.html": html(task.chart, whole=whole, article=sheet).encode(),
        f"{task.name}.csv": table_of(whole).as_csv().encode(),
        f"{task.name}.txt": (clean(whole.alt or whole.title) + "\n").encode(),
    }


def _reveal(task: Task) -> Mapping[str, bytes]:
    assert isinstance(task.chart, RankedBars)
    sheet = set_page(task.chart, task.layout)
    parts = taken_apart(task.chart, task.question, sheet)
    made: dict[str, bytes] = {}
    for theme in ALL_THEMES:
        for named in (False, True):
            kind = "named" if named else "hidden"
            made[f"{theme.value}-{kind}.svg"] = reveal_svg(parts, theme, named=named).encode()
        made |= {f"{theme.value}-{each.name}.png": each.png for each in frames(parts, theme)}
    return _pictures_of(task, sheet) | {f"{FOLDER}/{task.name}/{name}": body for name, body in made.items()}


FOLDER = "reveal"
"""Folder of the reveal sets within the pack."""

_SORTS: dict[Sort, Callable[[Task], Mapping[str, bytes]]] = {
    Sort.PICTURES: _pictures,
    Sort.READ: _read,
    Sort.REVEAL: _reveal,
}
