"""Bringing things in: files, and a line in the log."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from stillroom.errors import BadInput
from stillroom.lab.book import open_book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.intake.batch import Ask
from stillroom.lab.intake.checking_in import check_in, not_used
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.intake.steps_told import moved_cuts, waiting_steps
from stillroom.lab.intake.withdrawing import withdraw as take_back
from stillroom.lab.recipes import build_graph
from stillroom.lab.watch.watching import Telling
from stillroom.records.acts import Run, Step
from stillroom.verbs.added import Say, quiet, said_of, said_of_withdrawn, watched
from stillroom.verbs.doors import open_lab, settings_told
from stillroom.verbs.said import Said


def add(
    *paths: Path,
    as_: tuple[str, ...] = (),
    layout: str = "",
    save_layout: str = "",
    preview: bool = False,
    like_last: bool = False,
    new_mounting: bool = False,
    no_check: bool = False,
    watch: bool = False,
    once: bool = False,
    withdraw: bool = False,
    reason: str = "",
    lab: Path | None = None,
    ask: Ask | None = None,
    progress: Progress = silent,
    say: Say = quiet,
) -> Said:
    """Bring in folders, tables, rigs and measurement files. The originals are kept and never changed.

    A file that can't be understood is named and stays outside; the others come in, and the exit code is 2. Each
    new run is checked at once: "agrees", "first" (nothing to compare it with yet), "look" (a mark) or "stop"
    (a finding that blocks), with the reason and a one-minute test. Where one says "stop", the exit code is 1.

    Parameters
    ----------
    paths : files and folders.
    as_ : what the files don't say themselves, KEY=VALUE: unit:HEADER, column:HEADER, fan, sample, mounting,
        obstacle, duty, volts, speed, rig, names (a pattern), accuracy, sheet, delimiter, decimal, thousands, dates,
        encoding.
    layout : read strictly by a saved layout: its name in the lab, or a FILE.toml that another lab shared.
    save_layout : keep the way of reading under this name, or write it to a FILE.toml to be shared.
    preview : only show what was understood; nothing is written.
    like_last : fan, sample, obstacle and rig are those of the run that came in last, where nothing tells them.
    new_mounting : the fan was fitted anew, although nothing else was on the rig in between.
    no_check : only bring in; `reduce` and `review` do the rest later.
    watch : stay and bring in each export of one folder as soon as it is whole; Ctrl-C ends it (exit code 0).
        charts/latest.html in the lab shows the newest curve over the last mounting's, anew by itself.
    once : with --watch: end when everything that lies there has been brought in.
    withdraw : take these files back instead: their runs stand no more, the originals and the history stay. A file
        is named by its path, its name in the lab or a run's; added again by its own path it comes back.
    reason : with --withdraw: why.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    said = settings_told(as_)
    if withdraw or reason:
        others = said or layout or save_layout or preview or watch or once or like_last or new_mounting
        if others or not withdraw:
            raise BadInput("--withdraw", found="other options beside it" if withdraw else "--reason alone",
                           expected="files, --withdraw and --reason WHY")  # fmt: skip
        with open_lab(lab) as opened:
            return said_of_withdrawn(take_back(opened, paths, reason))
    if preview and save_layout:
        raise BadInput(
            "--save-layout", found="--preview beside it, which writes nothing", expected="one of the two"
        )
    with open_lab(lab) as opened:
        if watch or once:
            _refuse_beside_watch(paths, preview=preview, save_layout=save_layout)
            telling = Telling(said, layout, like_last, new_mounting, ask, check=not no_check)
            return watched(opened, paths[0], telling, once=once, say=say)
        steps = opened.current(Step)
        added = bring_in(
            opened,
            paths,
            said,
            layout=layout,
            save_layout=save_layout,
            preview=preview,
            like_last=like_last,
            new_mounting=new_mounting,
            ask=ask,
            progress=progress,
        )
        checked = [] if no_check else check_in(opened, added.runs, progress=progress)[0] if added.runs else []
        if added.records.get(Run.kind) and not preview:  # a table that comes after the files
            graph = build_graph(open_book(opened))
            unused = not_used(graph, [each.placed.run for each in checked])
            added = replace(added, marks=(*added.marks, *unused))
        if added.records.get(Step.kind) and not preview:
            waiting = waiting_steps(open_book(opened), steps)
            moved = [] if no_check else moved_cuts(opened, steps, added.runs, progress)
            added = replace(added, marks=(*added.marks, *waiting, *moved))
    return said_of(added, checked, preview=preview)


def _refuse_beside_watch(paths: tuple[Path, ...], *, preview: bool, save_layout: str) -> None:
    if len(paths) != 1 or preview or save_layout:
        found = "--preview" if preview else "--save-layout" if save_layout else f"{len(paths)} paths"
        raise BadInput("--watch", found=found, expected="one folder, and neither --preview nor --save-layout")
