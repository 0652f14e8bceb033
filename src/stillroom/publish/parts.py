"""The parts of a release, and what makes each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from stillroom.lab.executor import Progress
from stillroom.publish.account import write_account
from stillroom.publish.contents import Contents
from stillroom.publish.data.writing import write_open_data
from stillroom.publish.fan_card import write_fan_cards
from stillroom.publish.methodology.writing import write_methodology
from stillroom.publish.pack.writing import write_pack
from stillroom.publish.page.writing import write_page
from stillroom.publish.review import write_review
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
    Part("data", write_open_data, "open data"),
    Part("charts", write_pack, "chart"),
    Part("documents", write_account, "account"),
    Part("documents", write_methodology, "methodology"),
    Part("documents", write_fan_cards, "fan card"),
    Part("documents", write_review, "review"),
    Part("page", write_page, "reader's page"),
)
"""The parts in the order of their making: later ones may look at what earlier ones wrote."""
