"""The page on open data names every table, and its way of undoing apostrophes is the one that holds."""

from __future__ import annotations

import re
from pathlib import Path

from apostrophes import plain_text

from stillroom.publish.contents import Contents
from stillroom.publish.data.cells import safe_text
from stillroom.publish.data.shown import Shown
from stillroom.publish.data.writing import TABLES

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "open-data.md").read_text(encoding="utf-8")


def test_every_table_is_on_the_page_and_no_other(gathered: Contents) -> None:
    section = PAGE.partition("| Table | One row is |")[2].partition("\n\n")[0]
    cells = [line.split("|")[1] for line in section.splitlines() if line.count("|") > 2]
    named = [each for cell in cells for each in re.findall(r"`([a-z-]+)`", cell)]
    assert named, "the table of tables is told in another way"
    shown = Shown(gathered)
    assert sorted(named) == sorted(make(shown).name for make in TABLES)


def test_the_page_s_python_undoes_the_apostrophes() -> None:
    code = PAGE.partition("```python\n")[2].partition("```")[0]
    scope: dict[str, object] = {}
    exec(code, scope)
    plain = scope["plain"]
    for text in ("=1", "'x", "a;-1", "\t=", "a\r\n'b", "usual", "x;y"):
        assert plain(safe_text(text)) == plain_text(safe_text(text)) == text  # type: ignore[operator]
