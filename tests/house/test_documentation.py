"""The documentation against the code: what exists is written up, and generated pages are up to date."""

from __future__ import annotations

import importlib
import re
import runpy
from collections.abc import Iterable
from pathlib import Path

import pytest

from stillroom import errors, vocabulary

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
PAGES = runpy.run_path(str(ROOT / "tools" / "write_docs.py"))["PAGES"]

# What must be written up: the list in the code, and the page where each of its names stands in backticks.
LISTS = {
    "stillroom.verbs.VERBS": "verbs.md",
    "stillroom.measures.MEASURES": "measures.md",
    "stillroom.quality.RULES": "findings.md",
}


def names_in(things: Iterable[object]) -> list[str]:
    """The names of verbs, measures or rules: of a mapping its keys, else `.name`, else a function's name."""
    return [thing if isinstance(thing, str) else name_of(thing) for thing in things]


def name_of(thing: object) -> str:
    """A thing's own name."""
    own = str(getattr(thing, "__name__", thing)).replace("_", "-")
    return str(thing.name) if hasattr(thing, "name") else own


def read(page: Path) -> str:
    return page.read_text(encoding="utf-8") if page.exists() else ""


def unwritten(names: Iterable[str], text: str) -> list[str]:
    """The names that stand nowhere in backticks, alone or as the first word after the program's name."""
    quoted = set(re.findall(r"`(?:stillroom )?([^`\s]+)[^`]*`", text))
    return [name for name in names if name not in quoted]


@pytest.mark.parametrize(("place", "page"), LISTS.items())
def test_everything_is_written_up(place: str, page: str) -> None:
    module, _, name = place.rpartition(".")
    things = getattr(importlib.import_module(module), name, ())
    names = names_in(things)
    assert names, f"{place} is missing or empty: the list that the documentation is held against"
    assert unwritten(names, read(DOCS / page)) == [], f"not written up in docs/{page}"


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_generated_page_is_up_to_date(name: str) -> None:
    assert read(DOCS / name) == PAGES[name](), "run tools/write_docs.py"


def test_quantities_units_and_errors_are_written_up() -> None:
    quantities, failures = read(DOCS / "quantities.md"), read(DOCS / "errors.md")
    assert unwritten((each.name for each in vocabulary.QUANTITIES), quantities) == []
    assert [each.symbol for each in vocabulary.UNITS if f"\n| {each.symbol} |" not in quantities] == []
    kinds = [name for name, kind in vars(errors).items() if isinstance(kind, type) and name[0] != "_"]
    assert unwritten(kinds, failures) == []


def test_the_readme_has_the_two_commands_and_sound_links() -> None:
    readme = read(ROOT / "README.md")
    assert "python3 start.py demo" in readme
    assert "python3 start.py test" in readme
    assert dead_links(ROOT / "README.md", readme) == []


@pytest.mark.parametrize("page", sorted(DOCS.rglob("*.md")), ids=lambda page: str(page.relative_to(DOCS)))
def test_links_lead_somewhere(page: Path) -> None:
    assert dead_links(page, read(page)) == []


def dead_links(page: Path, text: str) -> list[str]:
    """The links and pictures of a page that lead to no file of the project."""
    found = re.findall(r"\]\(([^)#\s]+)[^)]*\)", text)
    return [link for link in found if "://" not in link and not (page.parent / link).exists()]


def test_a_name_that_is_not_written_up_is_caught() -> None:
    text = "## `stillroom add PATH…`\n\nBrings files in; `rank` orders. listen\n"
    assert unwritten(["add", "rank", "listen"], text) == ["listen"]
    assert dead_links(DOCS / "x.md", "[a](nowhere.md) [b](../LICENSE)") == ["nowhere.md"]
    assert names_in([test_links_lead_somewhere]) == ["test-links-lead-somewhere"]
    assert names_in({"free_airflow": 1}) == ["free_airflow"]
    assert names_in([vocabulary.QUANTITIES[0]]) == ["flow"]
