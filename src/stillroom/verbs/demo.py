"""The invented laboratory, from its raw exports to a ranked answer, with a story told in five steps."""

from __future__ import annotations

from pathlib import Path

from stillroom.demo.truth import Truth
from stillroom.demo.write import write_exports
from stillroom.errors import BadInput
from stillroom.lab.executor import Progress, silent
from stillroom.lab.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs import story
from stillroom.verbs.said import Said

BENCH = "bench"
"""Folder of the demo lab in which the rigs' exports lie as they were exported."""

NAME = "Heatherside Fan Laboratory (invented)"


def demo(
    dir: Path = Path("demo-lab"), *, full: bool = False, no_add: bool = False, progress: Progress = silent
) -> Said:
    """Make an invented laboratory and do the main job on its raw exports.

    Parameters
    ----------
    dir : the folder to make; a demo lab that is there already tells its story again.
    full : the whole laboratory: 25 fans, 10 speeds, two sizes.
    no_add : only make the lab and write the exports; nothing is added.
    """
    truth = _made(dir, full)
    if no_add:
        return Said(
            f"An empty lab in {dir}, raw exports in {dir / BENCH}.",
            lines=(f"Next: stillroom add {dir / BENCH} --lab {dir}",),
            data={"lab": str(dir), "exports": str(dir / BENCH)},
        )
    with Lab(dir) as lab:
        progress("reading exports", 0, 1)
        bring_in(lab, [dir / BENCH], {})
        progress("reading exports", 1, 1)
        return story.tell(lab, truth, dir, dir / BENCH, progress)


def _made(dir: Path, full: bool) -> Truth:
    """The lab with its exports; an earlier demo lab is used as it is.

    Raises
    ------
    BadInput : the folder holds something else, or a demo lab of the other extent.
    """
    if (dir / folder.SETTINGS).exists() and not (dir / BENCH / "rigs.toml").exists():
        raise BadInput("demo", place=str(dir), found="a lab of another kind", expected="a new folder")
    if not (dir / folder.SETTINGS).exists():
        folder.make(dir, template(NAME))
    return write_exports(dir / BENCH, full=full, truth_path=dir / "truth.json")
