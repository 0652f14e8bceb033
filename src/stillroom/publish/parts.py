"""The parts of a release, and what makes each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from stillroom.lab.executor import Progress
from stillroom.publish.account import write_account
from stillroom.publish.contents import Contents
from stillroom.publish.tables.writing import write_standings

Maker: TypeAlias = Callable[[Contents, Path, Progress], list[Path]]


@dataclass(frozen=True)
class Part:
    """A part of a release: its folder, what makes it, and what its files are."""

    folder: str
    make: Maker
    what: str


PARTS: tuple[Part, ...] = (
    Part("standings", write_standings, "standings"),
    Part("documents", write_account, "account"),
)
"""The parts in the order of their making: later ones may look at what earlier ones wrote."""
