"""Adds to a lab or reduces it: once, or again and again in children of a process that has everything loaded.

`kill_driver.py add LAB EXPORTS`, `kill_driver.py reduce LAB WORKERS`: once, in this interpreter.
`kill_driver.py serve`: each line on stdin is such a command; it is done in a forked child that leads a process
group of its own. Answers "started PID", then "ended STATUS" (as `os.waitpid` gives it).
"""

from __future__ import annotations

import contextlib
import os
import sys
import traceback
from pathlib import Path

from stillroom.lab.book import open_book
from stillroom.lab.intake import entering, intake
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.store.lab import Lab


def one_day() -> str:
    """Always the same day, so that a test that runs over midnight compares like with like."""
    return "2026-06-01T12:00:00+00:00"


def act(verb: str, lab: str, what: str) -> None:
    with Lab(Path(lab)) as opened:
        if verb == "add":
            intake.bring_in(opened, [Path(what)], {})
        else:
            reduce_lab(opened, build_graph(open_book(opened)), workers=int(what))


def in_child(words: list[str]) -> int:
    """Act in a forked child; its process id, which is its group's as well."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            os.setpgid(0, 0)
            act(*words)
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)
    with contextlib.suppress(OSError):  # it has done so itself, or is gone
        os.setpgid(child, child)
    return child


def serve() -> None:
    for line in sys.stdin:
        child = in_child(line.split())
        print("started", child, flush=True)
        _, status = os.waitpid(child, 0)
        print("ended", status, flush=True)


if __name__ == "__main__":
    intake.now = entering.now = one_day  # type: ignore[attr-defined]
    if sys.argv[1] == "serve":
        serve()
    else:
        act(*sys.argv[1:])
