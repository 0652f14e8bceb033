from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from making import keep, note

from stillroom.records.acts import Event, Run
from stillroom.records.products import Fan, Sample
from stillroom.records.settings import template
from stillroom.store import folder, journal
from stillroom.store.journal import Note
from stillroom.store.lab import Lab


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("Heather Lab"))
    return tmp_path / "lab"


@pytest.fixture
def lab(path: Path) -> Iterator[Lab]:
    """A lab with records of several kinds, a correction, a withdrawal and three originals."""
    with Lab(path) as opened:
        first = keep(opened, b"fan,size [mm]\nBracken,120\n", "fans.csv")
        second = keep(opened, b"p,q\n1,2\n", "sweep.csv")
        third = keep(opened, b"p,q\n3,4\n", "sweep.csv")
        opened.write([first, second, third])
        opened.write(
            [
                note(
                    Fan(fan="Bracken", maker="Fennock", size=0.12, full_speed=29.5),
                    f"{first.original} (line 2)",
                ),
                note(Fan(fan="Sedge", size=0.14)),
                note(Sample(fan="Bracken", sample="s1", registered=True, hours=7200.0)),
                note(Run(file="a/sweep.csv", fan="Bracken", sample="s1", duty=0.55)),
                note(Event(time="2026-03-02T09:00", text="coolant topped up, 0.2 l; “quotes”, ünïcode")),
            ]
        )
        opened.write([note(Fan(fan="Bracken", maker="Fennock", size=0.12, full_speed=30.0))])
        opened.write([Note(journal.WITHDRAWN, "Sedge", {"kind": "fan"})])
        yield opened
