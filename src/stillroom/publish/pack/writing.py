"""Writing the pack: what isn't kept from before is drawn, in processes; then every file is put into the release."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from stillroom.charts.further_series import Chart
from stillroom.charts.layout import Layout
from stillroom.charts.reveal import ORDER
from stillroom.charts.series import RankedBars
from stillroom.errors import LabDamaged
from stillroom.lab.executor import Progress, each_done, silent
from stillroom.publish.contents import Contents
from stillroom.publish.pack import drawing
from stillroom.publish.pack.belonging import Belongs, Missing, belonging
from stillroom.publish.pack.choosing import RULE
from stillroom.publish.pack.drawing import Sort, Task, draw_task, key_of_task
from stillroom.publish.pack.kept import kept, path_of, plain

LIST = "charts.json"
SCHEMA = "stillroom/charts/1"
WHAT = "drawing charts"


@dataclass(frozen=True)
class Drawn:
    """What was done: how many pages there are, how many of them were drawn now."""

    files: list[Path]
    pages: int
    drawn: int


def write_pack(contents: Contents, folder: Path, progress: Progress = silent, workers: int = 0) -> list[Path]:
    """Write the chart pack of a release into its folder.

    Parameters
    ----------
    folder : charts/ of the release, there already. workers : how many processes draw; 0 for the usual number.

    Returns
    -------
    The files: pictures of each chart in each layout, light and dark, as PNG and SVG; a page with its table; the table;
    the alt text; a reveal set of each chart of bars, where the lab wants them; and `charts.json`, which lists all.
    """
    found, missing = belonging(contents)
    made = draw_pack(
        contents.lab.path, found, folder, progress, workers, reveal=contents.settings.publish.reveal
    )
    return [*made.files, _listed(folder, found, missing, made.files)]


def draw_pack(
    lab: Path, charts: Sequence[Belongs], folder: Path, progress: Progress, workers: int, *, reveal: bool
) -> Drawn:
    """Draw what isn't kept in a lab's cache, and write all files of these charts into a folder."""
    tasks = [task for each in charts for task in _tasks(lab, each, reveal=reveal)]
    had = {task.bundle: kept(task.bundle) for task in tasks}
    wanted = sorted((task for task in tasks if had[task.bundle] is None), key=_long_first)
    refused: dict[Path, str] = {}
    for done, (bundle, why) in enumerate(each_done(draw_task, wanted, workers=workers)):
        progress(WHAT, done, len(wanted))
        refused[bundle] = why
    progress(WHAT, len(wanted), len(wanted))
    files: list[Path] = []
    for task in tasks:
        if refused.get(task.bundle):
            continue
        made = had.pop(task.bundle, None) or kept(task.bundle)
        if made is None:
            raise LabDamaged(
                "cache of charts", place=str(task.bundle), found="a bundle that can't be read back",
                expected="another try: the cache may be deleted",
            )  # fmt: skip
        files += list(_put(folder, made))
    return Drawn(files, len(tasks), len(wanted))


def _tasks(lab: Path, one: Belongs, *, reveal: bool) -> Iterator[Task]:
    """The pages of a chart: one of them is read with its table, the wide one is shown bar by bar too."""
    sorts = {Layout.ARTICLE: Sort.READ} | ({Layout.WIDE: Sort.REVEAL} if reveal and one.is_revealed else {})
    for layout, chart in one.pages.items():
        sort = sorts.get(layout, Sort.PICTURES)
        key = key_of_task(sort, one.name, layout, chart, one.whole, one.question)
        yield Task(sort, one.name, layout, chart, one.whole, one.question, path_of(lab, key))


def _long_first(task: Task) -> tuple[int, str]:
    """Long tasks begin first, so that processes end together."""
    return [Sort.REVEAL, Sort.READ, Sort.PICTURES].index(task.sort), task.name


def _put(folder: Path, bundle: dict[str, bytes]) -> Iterator[Path]:
    for name, body in bundle.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(body)
        yield path


# --- the list ---------------------------------------------------------------------------------------------


def _listed(
    folder: Path, charts: Sequence[Belongs], missing: Sequence[Missing], files: Sequence[Path]
) -> Path:
    """Write the list of all charts: what each shows, why it is here, and its files."""
    names = [each.relative_to(folder).as_posix() for each in files]
    told = {
        "schema": SCHEMA,
        "rule": RULE,
        "charts": [_told(each, names) for each in charts],
        "missing": [{"name": each.name, "kind": each.kind.value, "why": each.why} for each in missing],
    }
    path = folder / LIST
    path.write_text(json.dumps(told, ensure_ascii=False, indent=1) + "\n", encoding="utf-8", newline="\n")
    return path


def _told(one: Belongs, names: Sequence[str]) -> dict[str, Any]:
    own = (f"{one.name}.", *(f"{one.name}-{layout.page.name}-" for layout in Layout))
    place = f"{drawing.FOLDER}/{one.name}/"
    wide = one.pages.get(Layout.WIDE)
    steps = [each.label for each in reversed(wide.bars)] if isinstance(wide, RankedBars) else []
    revealed = [each for each in names if each.startswith(place)]
    return {
        "name": one.name,
        "slug": one.slug,
        "kind": one.kind.value,
        "title": one.whole.title,
        "alt": one.whole.alt,
        "notes": list(one.whole.notes),
        "why": one.why,
        "rule": one.note,
        "digest": digest_of(one.whole),
        "files": [each for each in names if each.startswith(own)],
        "reveal": {"order": ORDER, "fans": steps, "files": revealed} if revealed else None,
    }


def digest_of(chart: Chart) -> str:
    """A digest of what a chart shows, without its footer: it moves when the chart does, not with the day."""
    shown = [each for each in plain(chart) if each != chart.footer]
    return sha256(json.dumps(shown).encode()).hexdigest()
