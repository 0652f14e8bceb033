"""The invented laboratory, from its raw exports to a ranked answer, with a story told step by step."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from stillroom.demo.catalogue import REFERENCE_FAN, REFERENCE_OBSTACLE
from stillroom.demo.rigs import write_later
from stillroom.demo.saving import NAMES
from stillroom.demo.tables import ALSO, REGISTERED, ROUNDS
from stillroom.demo.truth import Truth
from stillroom.demo.write import SEED, write_exports
from stillroom.errors import BadInput
from stillroom.lab.executor import Progress, shared_workers, silent, start_workers
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs import story
from stillroom.verbs.added import Say, quiet
from stillroom.verbs.demonstrating_live import demo_live
from stillroom.verbs.said import Said
from stillroom.verbs.watching import Panel, no_panel

BENCH = "bench"
"""Folder of the demo lab in which the rigs' exports lie as they were exported."""

NAME = "Heatherside Fan Laboratory (invented)"


def demo(
    dir: Path = Path("demo-lab"),
    *,
    full: bool = False,
    no_add: bool = False,
    live: bool = False,
    speed_up: float = 0.0,
    progress: Progress = silent,
    say: Say = quiet,
    panel: Panel = no_panel,
) -> Said:
    """Make an invented laboratory and do the main job on its raw exports.

    Parameters
    ----------
    dir : the folder to make; a demo lab that is there already tells its story again.
    full : the whole laboratory: 20 fans of two sizes at 10 speeds, a round of three weeks.
    no_add : only make the lab and write the exports; nothing is added.
    live : play three heat rigs whose logger files grow, and watch them until each is ready to swap.
    speed_up : with --live how many times as fast as real rigs; without it they take about a minute.
    """
    if live:
        if not (dir / BENCH / "heat.toml").exists():
            _made(dir, full, sound=False)
        with Lab(dir) as lab:
            return demo_live(lab, dir / BENCH, SEED, speed_up, say, panel)
    if no_add:
        _made(dir, full)
        return Said(
            f"An empty lab in {dir}, raw exports in {dir / BENCH}.",
            lines=(f"Next: stillroom add {dir / BENCH} --lab {dir}",),
            data={"lab": str(dir), "exports": str(dir / BENCH)},
        )
    with shared_workers():
        start_workers()  # they load while the exports are written
        truth = _made(dir, full)
        with Lab(dir) as lab:
            bring_in(lab, [dir / BENCH / ROUNDS], {}).refuse_bad()  # registered before any data are seen
            bring_in(lab, [dir / BENCH], {}, progress=progress).refuse_bad()
            return story.tell(lab, truth, dir, progress)


def _made(dir: Path, full: bool, *, sound: bool = True) -> Truth:
    """The lab with its exports; an earlier demo lab is used as it is, with the dates that it was made with.

    Without `sound` no recordings are written: that takes seconds.

    Raises
    ------
    BadInput : the folder holds something else, or a demo lab of the other extent.
    """
    bench, truth_path, today = dir / BENCH, dir / "truth.json", date.today()
    if (dir / folder.SETTINGS).exists():
        if not (bench / "rigs.toml").exists() or not truth_path.exists():
            raise BadInput("demo", place=str(dir), found="a lab of another kind", expected="a new folder")
        before = json.loads(truth_path.read_text(encoding="utf-8"))
        if before["full"] != full:
            there = "the whole demo lab" if before["full"] else "the demo lab of six fans"
            raise BadInput("demo", place=str(dir), found=there, expected="a new folder for the other one")
        today = date.fromisoformat(before["today"])
    else:
        folder.make(dir, _settings(full))
        write_later(dir)
    return write_exports(
        bench, full=full, truth_path=truth_path, today=today, sound=sound, heat=True, control=True
    )


def _settings(full: bool) -> str:
    """The text of the demo lab's lab.toml."""
    others = ("grille", "mesh", "fine", "rad45", "dense") if full else ("mesh", "dense")
    listed = ", ".join(f'"{each}"' for each in (REFERENCE_OBSTACLE, *others))
    told = {"references": f"[{listed}]"}
    if full:
        told |= {"reference_fan": f'"{REFERENCE_FAN}"', "names": f'"{NAMES}"'}
    lines = template(NAME).splitlines(keepends=True)
    for key, value in told.items():  # each in the place where the template shows it
        lines = [f"{key} = {value}\n" if line.startswith(f"# {key} = ") else line for line in lines]
    published = ", ".join(f'"{each}"' for each in (*(measure for measure, _ in REGISTERED), *ALSO))
    return "".join(lines) + f"\n[publish]\nmeasures = [{published}]\n"
