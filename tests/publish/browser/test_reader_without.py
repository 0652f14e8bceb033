"""What the reader's page says where something is missing: a size, a resistance, sound in free air, a level."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browsing import Open

from stillroom.publish.page.mark_words import MEANINGS
from stillroom.publish.page.writing import as_script

Change = Callable[[Callable[[dict[str, Any]], None]], Path]
OWN = "#choose?noise=35&through=own"


@pytest.fixture
def changed(page_folder: Path, tmp_path: Path) -> Change:
    """A copy of the page whose data are other ones."""

    def change(alter: Callable[[dict[str, Any]], None]) -> Path:
        folder = Path(shutil.copytree(page_folder, tmp_path / "page"))
        place = folder / "data.js"
        text = place.read_text(encoding="utf-8")
        start, end = text.index("{"), text.rindex("}") + 1
        data = json.loads(text[start:end])
        alter(data)
        place.write_text(f"{text[:start]}{as_script(data)}{text[end:]}", encoding="utf-8")
        return folder

    return change


def test_fans_without_size_have_no_words_and_no_box_of_it(opened: Open, changed: Change) -> None:
    def alter(data: dict[str, Any]) -> None:
        data["sizes"], data["usualSize"] = [], None
        data["fans"]["size"] = [None] * len(data["fans"]["size"])

    seen = opened("#choose?noise=30&through=rad27", folder=changed(alter))
    assert seen.rows()
    assert "undefined" not in seen.text("main")
    assert "mm fans" not in seen.text("#told")
    assert not seen.page.locator("#size").is_visible()
    assert not seen.page.locator("#size-label").is_visible()


def test_with_a_size_words_and_box_are_there(opened: Open) -> None:
    seen = opened("#choose?noise=30&through=rad27")
    assert "120 mm fans" in seen.text("#told")
    assert seen.page.locator("#size").is_visible()


def test_a_resistance_not_told_yet_is_no_free_air(opened: Open) -> None:
    seen = opened(OWN)
    assert seen.text("#headline").startswith("Write the resistance")
    assert seen.text("#list-title") == "Airflow through your own resistance, not told yet"
    assert not seen.page.locator("#list-note").is_visible()
    assert not seen.page.locator("#escape").is_visible()


def test_the_headline_says_why_nobody_is_ranked_and_leads_to_full_speed(
    opened: Open, changed: Change
) -> None:
    def alter(data: dict[str, Any]) -> None:
        data["heard"] = ["rad27@1" if each == "" else each for each in data["heard"]]

    seen = opened(f"{OWN}&resistance=20 Pa at 60 m³/h", folder=changed(alter))
    assert seen.rows() == []
    said = seen.text("#headline")
    assert said.startswith("No fan can be ranked at 35 dBA through 20 Pa at 60 m³/h: ")
    assert "sound was measured only with" in said
    assert "@" not in said
    assert said.endswith("At full speed they can.")
    seen.page.locator("#to-full").click()
    assert seen.text("#headline").startswith("At full speed through 20 Pa at 60 m³/h")
    assert len(seen.rows()) > 1
    assert seen.page.evaluate("document.activeElement.id") == "headline"
    assert not seen.page.locator("#escape").is_visible()


def test_names_that_no_fan_has_are_said(opened: Open) -> None:
    seen = opened("#choose?noise=30&through=rad27&only=zzz")
    assert seen.text("#headline").endswith("no name holds “zzz”.")


def test_short_marks_have_their_meaning_under_the_list(opened: Open) -> None:
    seen = opened("#choose?noise=30&through=rad27")
    notes = [" ".join(each.split()) for each in seen.page.locator("#notes li").all_inner_texts()]
    known = [each for each in notes if each.startswith(tuple(MEANINGS))]
    assert known
    for note in known:
        mark = next(each for each in MEANINGS if note.startswith(each))
        assert note.endswith(f": {MEANINGS[mark]}")


def test_a_level_that_is_a_bound_is_dotted_and_has_no_band(opened: Open, page_folder: Path) -> None:
    bounded = plain = 0
    for place in sorted((page_folder / "fans").glob("*.js"), key=lambda each: int(each.stem)):
        text = place.read_text(encoding="utf-8")
        fan = json.loads(text[text.index("{") : text.rindex("}") + 1])
        flags = fan["sound"].get("bound", [])
        if not flags:
            continue
        seen = opened(f"#fan/{fan['name']}?noise=30&through=rad27")
        seen.page.wait_for_selector("#part-sound")
        own = seen.page.locator("section[aria-labelledby=part-sound]")
        assert (own.locator("path.line.atmost").count() > 0) == any(flags)
        assert [each is None for each in fan["sound"]["low"]] == flags
        if any(flags):
            bounded += 1
            assert "at most" in own.locator("svg.plot").first.inner_html()
            assert "At most: the background" in own.inner_text()
        else:
            plain += 1
            assert own.locator("path.ribbon").count() == 1
    assert bounded
