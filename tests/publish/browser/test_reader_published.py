"""At a published measure's settings the page shows the release's own numbers, to the last digit that is printed."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from browsing import Open, Watched

from stillroom import wording
from stillroom.compare.standing import PairStanding, Standing
from stillroom.publish.contents import Contents, Published
from stillroom.publish.page.published_rankings import is_offered

OWN = "The release’s own numbers, as published."
LOOKED_UP = "Looked up from the release’s tables"


@pytest.fixture(scope="session")
def offered(told: Contents) -> tuple[Published, ...]:
    """The published measures of airflow, of which the invented lab has some behind an obstacle and one free."""
    found = tuple(each for each in told.published if is_offered(each, {"rad27": "rad27"}))
    assert len(found) >= 3
    assert {each.measure.name for each in found} == {"airflow", "free-airflow"}
    return found


def link(published: Published, place: str = "choose", more: str = "") -> str:
    asked = published.asked.condition
    noise = "any" if asked.noise is None else f"{asked.noise:g}"
    return f"#{place}?noise={noise}&through={quote(asked.obstacle or 'free air')}{more}"


def interval(low: float, high: float) -> str:
    """As the lab's wording has it beside a value."""
    if np.isfinite(low) and np.isfinite(high):
        places = wording.places_for((high - low) / 2)
        return f"{wording.number(low, places)} to {wording.number(high, places)}"
    return f"at least {wording.bare(low)}" if np.isfinite(low) else f"at most {wording.bare(high)}"


def value(line: Standing, unit: str) -> str:
    if line.ends:
        return wording.spread(*line.ends, unit)
    ends = [each if np.isfinite(each) else None for each in (line.low, line.high)]
    bound = f"{line.bound.value} " if line.bound.value else ""
    return bound + wording.with_unit(wording.rounded(line.value, ends[0], ends[1]), unit)


def cells(seen: Watched) -> list[list[str]]:
    rows = seen.page.locator("#table tbody tr").all()
    return [each.locator("th, td").all_inner_texts() for each in rows]


def test_each_published_measure_is_shown_as_published(
    opened: Open, offered: tuple[Published, ...], told: Contents
) -> None:
    seen = opened()
    for published in offered:
        ranking = published.ranking
        seen.go(link(published))
        assert seen.text("#list-source") == OWN
        shown = [each.replace("\u00a0", " ") for each in seen.page.locator("#rows .value").all_inner_texts()]
        assert shown == [value(each, ranking.unit).replace("\u00a0", " ") for each in ranking.standings], (
            published.slug
        )
        seen.go(link(published, more="&as=table"))
        table = cells(seen)
        assert [each[0] for each in table] == [each.fan for each in ranking.standings]
        for row, line in zip(table, ranking.standings, strict=True):
            where = f"{published.slug} {line.fan}"
            assert row[2] == interval(line.low, line.high), where
            word = wording.mark_for(len(ranking.best)) if line.fan in ranking.best else "behind"
            assert row[3] == (word if line.rank else "not judged"), where
            places = [str(each) for each in dict.fromkeys(line.rank or ())]
            assert row[4] == (" to ".join(places) or "none"), where
            assert row[5] == line.how.value, where
        leader = ranking.standings[0]
        if len(ranking.best) == 1:
            assert f"{leader.fan} moves the most air" in seen.text("#headline")
        else:
            assert all(each in seen.text("#headline") for each in ranking.best[:4])
        left = seen.page.locator("#left").text_content() or ""
        assert all(each.why in left for each in ranking.excluded)
        seen.go(link(published, f"fan/{quote(leader.fan)}"))
        now = seen.text("section[aria-labelledby=part-asked]")
        assert value(leader, ranking.unit).replace("\u00a0", " ") in now
        assert interval(leader.low, leader.high) in now
        assert OWN in now


def test_marks_are_those_of_the_release(opened: Open, offered: tuple[Published, ...]) -> None:
    seen = opened(link(offered[0], more="&as=table"))
    notes = seen.page.locator("#notes li").all_inner_texts()
    for row, line in zip(cells(seen), offered[0].ranking.standings, strict=True):
        numbers = [int(each) for each in re.findall(r"\d+", row[10])]
        assert len(numbers) == len(set(line.marks)), line.fan
        assert all(any(notes[at - 1].startswith(mark) for at in numbers) for mark in line.marks), line.fan


def test_each_published_pair_is_shown_as_published(opened: Open, offered: tuple[Published, ...]) -> None:
    seen = opened()
    for published in offered[:2]:
        for each in published.ranking.pairs[:4]:
            for turned in (False, True):
                _pair(seen, published, each, turned)


def _pair(seen: Watched, published: Published, each: PairStanding, turned: bool) -> None:
    one, two = (each.b, each.a) if turned else (each.a, each.b)
    seen.go(link(published, f"compare/{quote(one)}/{quote(two)}"))
    seen.until("document.querySelector('#pair-sentence') !== null")
    low, high = (-each.high, -each.low) if turned else (each.low, each.high)
    difference = -each.difference if turned else each.difference
    row: Any = seen.page.locator("#pair-answer tbody tr").first.locator("td").all_inner_texts()
    assert row == [wording.rounded(difference, low, high), interval(low, high)], (published.slug, one, two)
    words = {"ahead": "behind" if turned else "ahead", "behind": "ahead" if turned else "behind"}
    word = words.get(each.verdict.value, "too close to call")
    assert word in seen.text("#pair-sentence")
    assert seen.text("#pair-source") == OWN
    if each.further.count:
        assert f"{each.further.count} more" in seen.text("#pair-answer")


def test_one_step_beside_it_is_looked_up(opened: Open, offered: tuple[Published, ...]) -> None:
    published = next(each for each in offered if each.asked.condition.noise is not None)
    seen = opened(link(published))
    before = seen.rows()
    seen.page.locator("#limit").focus()
    seen.page.keyboard.press("ArrowRight")
    assert seen.text("#list-source").startswith(LOOKED_UP)
    assert seen.rows() != before
    assert len(seen.rows()) == len(before)
    seen.page.keyboard.press("ArrowLeft")
    assert seen.text("#list-source") == OWN
    assert seen.rows() == before


def test_fewer_fans_keep_their_published_values(opened: Open, offered: tuple[Published, ...]) -> None:
    published = offered[0]
    some = published.ranking.standings[1:3]
    names = quote(",".join(each.fan for each in some))
    seen = opened(link(published, more=f"&only={names}&as=table"))
    assert [each[2] for each in cells(seen)] == [interval(each.low, each.high) for each in some]
    assert all(re.fullmatch(r"[12]( to 2)?", each[4]) for each in cells(seen))
    assert "among the fans shown" in seen.text("#list-source")
    seen.go(link(published, more="&fans=2"))
    assert seen.text("#list-source").startswith(LOOKED_UP)
