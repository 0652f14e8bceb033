"""A table of records comes in whole or not at all, whichever it is; what lies beside it comes in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.errors import BadInput
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

WORDS = "nothing of this table was added"

TABLES = {
    "fans": "fan,size [mm]\nSedge,120\nBracken,wide\n",
    "runs": "file,fan,duty [%]\na.csv,Sedge,60\nb.csv,Sedge,5000\n",
    "prices": "fan,price,currency\nSedge,20,EUR\nBracken,dear,EUR\n",
    "rounds": "round,measure,margin\none,heat at 35 dBA,0.4 K\none,free-airflow,5 K\n",
    "disputes": "fan,measure,since,text\nSedge,heat,2026-11-20,No\nSedge,nonsense,2026-11-20,No\n",
}


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    folder.make(tmp_path / "lab", template("Test"))
    with Lab(tmp_path / "lab") as opened:
        yield opened


@pytest.mark.parametrize("kind", TABLES)
def test_one_bad_line_keeps_its_whole_table_out_and_that_is_said(lab: Lab, tmp_path: Path, kind: str) -> None:
    inbox = tmp_path / "in"
    inbox.mkdir()
    (inbox / f"{kind}.csv").write_text(TABLES[kind], encoding="utf-8")
    with pytest.raises(BadInput, match=rf"line 3.*{WORDS}$"):
        bring_in(lab, [inbox / f"{kind}.csv"], {})
    (inbox / "obstacles.csv").write_text("obstacle,type\nrad27,radiator\n", encoding="utf-8")
    added = bring_in(lab, [inbox], {})
    assert [str(each).endswith(WORDS) for each in added.bad] == [True]
    assert added.records == {"obstacle": 1}
    book = open_book(lab)
    assert not getattr(book, kind)


def test_where_a_bad_table_leaves_files_without_their_fan_nothing_comes_in(lab: Lab, tmp_path: Path) -> None:
    inbox = tmp_path / "in"
    inbox.mkdir()
    (inbox / "runs.csv").write_text("file,fan,duty [%]\na.csv,Sedge,5000\n", encoding="utf-8")
    sweep = "".join(f"{20 - 2 * at},{10 * at},1500\n" for at in range(11))
    (inbox / "a.csv").write_text(f"p_s [Pa],Q [m³/h],n [rpm]\n{sweep}", encoding="utf-8")
    with pytest.raises(BadInput, match=f"{WORDS}; nothing else was added either$"):
        bring_in(lab, [inbox], {})
    assert not open_book(lab).taken
