"""Showing what a verb said: words and tables for people, JSON for machines."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from stillroom.errors import StillroomError
from stillroom.verbs.said import Said, Table

BELL = "\a"


@dataclass(frozen=True)
class Showing:
    """How to show: `json` for machines, `one_line` where several answers follow each other."""

    json: bool = False
    one_line: bool = False


def show(said: Said, showing: Showing) -> None:
    """Print the answer."""
    if showing.json:
        print(json.dumps(said.data, ensure_ascii=False, indent=None if showing.one_line else 1))
        return
    print(said.title)
    for heading, table in said.tables:
        if heading:
            print(f"\n{heading}")
        _table(table)
    for line in said.lines:
        print(line)


def _table(table: Table) -> None:
    """A table without rules between its cells: aligned columns, as in a lab book."""
    from rich import box
    from rich.console import Console
    from rich.table import Table as Drawn

    drawn = Drawn(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, header_style="bold")
    for place, header in enumerate(table.headers):
        drawn.add_column(_plain(header), justify="right" if place in table.right else "left")
    for row in table.rows:
        drawn.add_row(*(_plain(cell) for cell in row))
    width = None if sys.stdout.isatty() else 160
    Console(width=width, highlight=False, soft_wrap=False).print(drawn)


def _plain(text: str) -> Any:
    """Text as it is: brackets in a fan's name are no markup."""
    from rich.text import Text

    return Text(text)


def show_error(error: StillroomError, showing: Showing) -> None:
    """Print an error: one line for people, one shape for machines."""
    if showing.json:
        print(json.dumps(error.as_dict(), ensure_ascii=False, indent=1))
    else:
        print(error.sentence(), file=sys.stderr)


def progress_on(showing: Showing) -> Callable[[str, int, int], None]:
    """A progress line on the terminal; silence where nobody looks."""
    if showing.json or not sys.stderr.isatty():
        return lambda _what, _done, _all: None

    def tell(what: str, done: int, everything: int) -> None:
        if everything:
            end = "\n" if done == everything else ""
            print(f"\r{what}: {done} of {everything}", end=end, file=sys.stderr, flush=True)

    return tell


def panel_on(showing: Showing) -> Callable[[Sequence[str], bool], None]:
    """A few lines at the end of the terminal that renew in place, with its bell; nothing where nobody looks."""
    if showing.json or not sys.stdout.isatty():
        return lambda _lines, _ring: None
    shown = 0

    def renew(lines: Sequence[str], ring: bool) -> None:
        nonlocal shown
        width = shutil.get_terminal_size().columns - 1
        up = f"\x1b[{shown}A\x1b[J" if shown else ""
        text = "".join(f"{line[:width]}\n" for line in lines)
        print(f"{up}{text}{BELL if ring else ''}", end="", flush=True)
        shown = len(lines)

    return renew


def question_on(showing: Showing) -> Callable[[str], str] | None:
    """How to ask at the terminal, or None where there is none."""
    if showing.json or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None

    def ask(words: str) -> str:
        try:
            return input(f"{words} ")
        except EOFError:
            return ""

    return ask


class Saying:
    """Shows something while a verb goes on: words at once, or one line of JSON each."""

    def __init__(self, showing: Showing) -> None:
        self.showing = replace(showing, one_line=True)
        self.used = False

    def __call__(self, said: Said) -> None:
        """Show it now."""
        self.used = True
        show(said, self.showing)
        sys.stdout.flush()
