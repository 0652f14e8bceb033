"""The reader's page answers: the slider, links, units, a table, fans, pairs; from a file and over http."""

from __future__ import annotations

import json
import random
import re
import shutil
from pathlib import Path
from typing import Any

import pytest
from browsing import Open, served

from stillroom import wording
from stillroom.publish.contents import Contents
from stillroom.publish.page.writing import as_script
from stillroom.vocabulary import from_si

LINK = "#choose?noise=31&through=rad27"
"""A limit beside those of the published measures, whose answers are looked up."""


@pytest.fixture(params=["file", "http"])
def home(request: pytest.FixtureRequest, page_folder: Path) -> Any:
    if request.param == "file":
        yield f"{page_folder.as_uri()}/"
        return
    with served(page_folder.parent) as address:
        yield f"{address}page/"


def fans_of(page: Any) -> list[dict[str, Any]]:
    """The fans as the estimate lists them."""
    return list(page.evaluate("StillroomEstimate.open(window.stillroomData).fans"))


def ranked(page: Any, **asked: Any) -> dict[str, Any]:
    """What the estimate itself says."""
    usual = {
        "size": 120,
        "obstacle": "rad27",
        "resistance": None,
        "limit": 31,
        "fans": 1,
        "tiles": 1,
        "ceiling": None,
        "only": None,
    }
    found = page.evaluate("asked => StillroomEstimate.open(window.stillroomData).rank(asked)", usual | asked)
    assert isinstance(found, dict)
    return found


def test_slider_moves_the_ranking_and_link_restores_it(opened: Open, home: str) -> None:
    seen = opened(LINK, home=home)
    page = seen.page
    before, values = seen.text("#headline"), seen.rows()
    assert before.startswith("At 31 dBA through")
    page.locator("#limit").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    assert seen.text("#headline").startswith("At 33 dBA through")
    assert page.locator("#limit-number").input_value() == "33"
    after = seen.rows()
    assert after != values
    rows = ranked(page, limit=33)["rows"]
    assert len(after) == len(rows)
    names = [each["name"] for each in page.evaluate("StillroomEstimate.open(window.stillroomData).fans")]
    for shown, row in zip(after, rows, strict=True):
        value = wording.rounded(*(from_si(row[each], "m³/h") for each in ("value", "low", "high")))
        assert shown.startswith(names[row["fan"]])
        assert f"{value} m³/h" in shown
        assert row["how"] in shown
    link = page.evaluate("location.hash")
    assert "noise=33" in link
    again = opened(link, home=home)
    assert again.text("#headline") == seen.text("#headline")
    assert again.rows() == after
    page.go_back()
    seen.until("document.querySelector('#headline').textContent.startsWith('At 31')")
    assert seen.rows() == values


def test_headline_tells_who_leads_or_that_it_is_too_close(opened: Open) -> None:
    seen = opened(LINK)
    found = ranked(seen.page)
    names = [each["name"] for each in fans_of(seen.page)]
    best = [names[each] for each in found["best"]]
    words = seen.text("#headline")
    if len(best) > 1:
        assert "too close to call" in words
        assert all(each in words for each in best[:4])
        tied = seen.page.locator("#rows > .is-tied .verdict").all_inner_texts()
        assert tied == [wording.TIED_MARK] * len(best)
    else:
        assert f"{best[0]} moves the most air" in words
    assert len(seen.rows()) == len(found["rows"])


def test_numbers_are_written_as_in_the_lab(opened: Open) -> None:
    seen = opened(LINK)
    draw = random.Random(7)
    values = [draw.uniform(-1, 1) * 10 ** draw.uniform(-4, 6) for _ in range(400)] + [
        0.5,
        2.5,
        0.125,
        -0.0,
        1e6,
        99.5,
    ]
    halves = [abs(each) * 10 ** draw.uniform(-4, 0) + 1e-6 for each in values] + [29.5, 0.295, 9.96, 99.4]
    page = seen.page
    assert page.evaluate("all => all.map(Stillroom.words.placesFor)", halves) == [
        wording.places_for(each) for each in halves
    ]
    for places in (-2, -1, 0, 1, 2, 3):
        shown = page.evaluate("([all, p]) => all.map(v => Stillroom.words.number(v, p))", [values, places])
        assert shown == [wording.number(each, places) for each in values]
    assert page.evaluate("all => all.map(Stillroom.words.bare)", values) == [
        wording.bare(each) for each in values
    ]
    pairs = [(value, value - half, value + half) for value, half in zip(values, halves, strict=False)]
    assert page.evaluate("all => all.map(e => Stillroom.words.rounded(...e))", pairs) == [
        wording.rounded(*each) for each in pairs
    ]
    names = ["A", "B", "C", "D", "E", "F"]
    for count in range(1, 7):
        assert page.evaluate("n => Stillroom.words.listed(n, 5)", names[:count]) == wording.listed(
            names[:count], most=5
        )


def test_units_of_the_reader(opened: Open) -> None:
    seen = opened(f"{LINK}&flow=CFM&pressure=mmH2O")
    row = ranked(seen.page)["rows"][0]
    value = wording.rounded(*(from_si(row[each], "CFM") for each in ("value", "low", "high")))
    assert f"{value} CFM" in seen.rows()[0]
    assert seen.page.locator("#pressure").input_value() == "mmH₂O"
    seen.page.locator("#more > summary").click()
    seen.page.locator("#flow").select_option("m³/h")
    assert "CFM" not in seen.rows()[0]
    assert "flow=" not in seen.page.evaluate("location.hash")


def test_table_says_what_the_bars_say(opened: Open) -> None:
    seen = opened(LINK)
    values = seen.page.locator("#rows .value").all_inner_texts()
    ranges = seen.page.locator("#rows .range").all_inner_texts()
    seen.page.get_by_role("button", name="Table").click()
    table = seen.page.locator("#table tbody tr")
    assert table.count() == len(values)
    for at in range(table.count()):
        own = table.nth(at).locator("th, td").all_inner_texts()
        assert own[1] == values[at].split("\u00a0")[0]
        assert own[2] == ranges[at]
    assert "as=table" in seen.page.evaluate("location.hash")


def test_price_names_and_several_fans(opened: Open) -> None:
    seen = opened(f"{LINK}&price=15")
    prices = {each["name"]: each["price"] for each in fans_of(seen.page)}
    shown = seen.page.locator("#rows .name").all_inner_texts()
    assert shown
    assert all(prices[each]["value"] <= 15 for each in shown)
    gone = [each for each in prices if prices[each]["value"] > 15]
    assert gone
    for each in gone:
        assert f"price above 15: {prices[each]['value']:.2f} {prices[each]['currency']}" in seen.page.locator(
            "#left").text_content()  # fmt: skip
    assert seen.page.locator("#more").evaluate("e => e.open")
    assert "Left out" in seen.text("#left")
    seen.go(f"{LINK}&only=sed,bil")
    assert sorted(seen.page.locator("#rows .name").all_inner_texts()) == ["Bilberry", "Sedge"]
    seen.go("#choose?noise=any&through=rad27&fans=3&area=each")
    assert seen.text("#headline").startswith("At full speed through three tiles of")
    assert "three of each side by side" in seen.text("#headline")
    assert {each["how"] for each in ranked(seen.page, limit=None, fans=3, tiles=3)["rows"]} <= {"modelled"}


def test_a_fans_page_says_where_and_when_its_price_held(opened: Open) -> None:
    seen = opened("#fan/Asphodel")
    price = next(each["price"] for each in fans_of(seen.page) if each["name"] == "Asphodel")
    told = f"{price['value']:.2f} {price['currency']} in {price['region']} on {price['date']}"
    assert told in seen.text("#view-fan .answer")


def test_resistance_of_ones_own(opened: Open) -> None:
    seen = opened("#choose?noise=any")
    page = seen.page
    page.locator("#through").select_option("own")
    assert "Write the resistance" in seen.text("#headline")
    field = page.get_by_label("Its resistance, as a pressure at a flow")
    field.fill("20 Pax at 60 m³/h")
    assert "Pax" in seen.text("#own-error")
    assert field.get_attribute("aria-invalid") == "true"
    field.fill("2 mmH2O at 35 CFM")
    field.press("Tab")
    assert seen.text("#own-error") == ""
    assert "through 2 mmH2O at 35 CFM" in seen.text("#headline")
    own = page.evaluate("Stillroom.settings.resistance('2 mmH2O at 35 CFM', window.stillroomRelease)")
    assert own["b"] == pytest.approx(2 * 9.80665 / (35 * 0.3048**3 / 60) ** 2)
    link = page.evaluate("location.hash")
    again = opened(link)
    assert seen.rows()
    assert again.rows() == seen.rows()
    seen.go("#choose?noise=any&through=coefficients&a=0.1&b=0.001")
    found = page.evaluate("Stillroom.settings.fromLink(location.hash.split('?')[1],"
                          " StillroomEstimate.open(window.stillroomData), window.stillroomRelease).own")  # fmt: skip
    assert found == {"a": pytest.approx(0.1 * 3600), "b": pytest.approx(0.001 * 3600**2)}
    assert seen.rows()


HOSTILE = (
    "#choose?noise=1e999&size=<script>&through=__proto__&fans=-1&price=NaN",
    "#fan/%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E",
    "#fan/../../etc/passwd",
    "#fan/%E0%A4%A",
    "#compare/__proto__/constructor?only=%3Cb%3E",
    "#choose?through=own&resistance=%22%3E%3Csvg%20onload%3Dalert(1)%3E&only=" + "a" * 5000,
    "#javascript:alert(1)",
    "#choose?noise=30&noise=9&&&=&fans=2.5&flow=furlongs",
    "#" + "%00" * 50,
    "#main",
)


def test_hostile_links_are_harmless(opened: Open) -> None:
    seen = opened()
    for link in HOSTILE:
        seen.go(link)
        assert seen.page.locator("main img, main script, main b, main svg[onload]").count() == 0, link
        assert seen.page.locator("main > section:visible").count() == 1, link
        assert seen.page.locator("h1:visible").inner_text(), link
        seen.page.evaluate("location.hash = 'choose?noise=30'")
        seen.until("document.querySelector('#headline').textContent.startsWith('At 30')")


def test_every_published_number_stands_on_a_fans_page(opened: Open, told: Contents) -> None:
    seen = opened("#fan/Bilberry")
    table = seen.page.locator("section[aria-labelledby=part-stands] tbody tr")
    shown = {row.locator("th").inner_text(): row.locator("td").all_inner_texts() for row in table.all()}
    count = 0
    for each in told.published:
        line = next((one for one in each.ranking.standings if one.fan == "Bilberry"), None)
        if line is None:
            continue
        count += 1
        value = wording.with_unit(wording.rounded(line.value, line.low, line.high), each.ranking.unit)
        assert value in shown[each.title][0], each.title
        assert shown[each.title][4] == line.how.value
    assert count > 3
    assert seen.page.locator("svg.plot").count() >= 2
    box = seen.text("section[aria-labelledby=part-box]")
    for claim in told.claims:
        if claim.claim.fan == "Bilberry":
            assert claim.words in box
    said = seen.page.locator("section[aria-labelledby=part-words]").text_content()
    assert said
    assert "Bilberry" in said


def test_pair_says_whether_the_gap_is_real(opened: Open) -> None:
    seen = opened("#compare/Bilberry/Tormentil?noise=31&through=rad27")
    fans = {each["name"]: each["index"] for each in fans_of(seen.page)}
    asked = {"size": 120, "obstacle": "rad27", "resistance": None, "limit": 31, "fans": 1, "tiles": 1,
             "ceiling": None, "only": None}  # fmt: skip
    pair = seen.page.evaluate(
        "([i, j, asked]) => StillroomEstimate.open(window.stillroomData).pair(i, j, asked)",
        [fans["Bilberry"], fans["Tormentil"], asked],
    )
    numbers = [from_si(pair[each], "m³/h") for each in ("difference", "low", "high")]
    answer = seen.text("#pair-answer")
    assert wording.rounded(*numbers) in answer
    words = {"ahead": "is ahead of", "behind": "is behind", "too close": "too close to call"}
    assert words[pair["verdict"]] in seen.text("#pair-sentence")
    margin = from_si(pair["margin"], "m³/h")
    assert f"from, m³/h {wording.number(margin, 0 if margin >= 10 else 1)}" in answer
    seen.page.locator("#pair-two").select_option("Sedge")
    assert "Sedge" in seen.text("#pair-sentence")
    assert "compare/Bilberry/Sedge" in seen.page.evaluate("location.hash")
    seen.page.go_back()
    seen.until("document.querySelector('#pair-sentence').textContent.includes('Tormentil')")
    assert seen.page.locator("#pair-answer").get_by_text("interpolated").count() + seen.page.locator(
        "#pair-answer").get_by_text("measured").count() + seen.page.locator(
        "#pair-answer").get_by_text("modelled").count() >= 1  # fmt: skip


def test_sounds_play_at_one_level(opened: Open, page_folder: Path) -> None:
    seen = opened(LINK)
    told = seen.page.evaluate("window.stillroomRelease.sounds")
    assert told["files"]
    levels = {re.search(r"([\d.]+) dBA", each["words"])[1] for each in told["files"].values()}  # type: ignore[index]
    assert len(levels) == 1
    assert "same volume setting" in seen.text("#listen")
    audio = seen.page.locator("#listen audio").first
    assert audio.get_attribute("preload") == "none"
    audio.evaluate("e => { e.preload = 'metadata'; e.load(); }")
    seen.until("document.querySelector('#listen audio').readyState > 0")
    assert audio.evaluate("e => e.duration") == pytest.approx(6.0, abs=0.1)
    assert all((page_folder / each["file"]).is_file() for each in told["files"].values())


# --- what may be wrong around it ------------------------------------------------------------------------------


def test_a_correction_is_told_on_top(opened: Open, page_folder: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(page_folder, tmp_path / "page"))
    note = {
        "words": "A nozzle was 0.4 mm wider.",
        "href": "../../spring-2026-2/page/index.html",
        "date": "2026-04-01",
    }
    (folder / "notice.js").write_text(f"window.stillroomNotice = {as_script(note)};", encoding="utf-8")
    seen = opened(LINK, folder=folder)
    assert seen.text("#notice").startswith("Corrected on 2026-04-01. A nozzle was 0.4 mm wider.")
    assert seen.page.locator("#notice a").get_attribute("href") == note["href"]
    (folder / "notice.js").write_text(
        'window.stillroomNotice = {"words": "x", "href": "javascript:alert(1)"};'
    )
    seen.go(LINK)
    assert seen.page.locator("#notice a").count() == 0


def test_names_of_fans_stay_text(opened: Open, page_folder: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(page_folder, tmp_path / "page"))
    name = "</script><img src=x onerror=alert(1)>\u2028'\"&"
    for each in (folder / "data.js", *(folder / "fans").glob("*.js")):
        text = each.read_text(encoding="utf-8")
        each.write_text(text.replace('"Bilberry"', as_script(name)), encoding="utf-8")
    seen = opened(LINK, folder=folder)
    assert name.replace("\u2028", " ") in " ".join(each.replace("\u2028", " ") for each in seen.rows())
    seen.page.locator("#rows a.name", has_text="onerror").click()
    assert seen.page.locator("#fan-title").text_content() == name
    assert seen.page.locator("main img").count() == 0
    seen.page.get_by_text("gap to").first.click()
    assert seen.page.locator("#pair-one").input_value() == name


def test_without_script_the_way_to_the_results_is_shown(browser: Any, page_folder: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{page_folder.as_uri()}/index.html")
    assert "switched off" in page.locator("noscript").inner_text()
    assert page.locator("noscript a").first.is_visible()
    context.close()


def test_a_missing_file_is_said(opened: Open, page_folder: Path, tmp_path: Path) -> None:
    folder = Path(shutil.copytree(page_folder, tmp_path / "page"))
    (folder / "data.js").unlink()
    seen = opened(folder=folder, go=False)
    seen.page.goto(f"{seen.home}index.html")
    seen.page.wait_for_selector("#loading:visible")
    assert "could not be opened" in seen.text("#loading")
    shutil.copy(page_folder / "data.js", folder / "data.js")
    shutil.rmtree(folder / "fans")
    seen.page.goto("about:blank")
    seen.page.goto(f"{seen.home}index.html#fan/Bilberry")
    seen.page.wait_for_selector("#view-fan .wrong")


def test_files_hold_no_other_address(page_folder: Path) -> None:
    """Nothing in the page's own files points to another host; names of namespaces are no addresses."""
    for each in page_folder.rglob("*"):
        if each.suffix in (".html", ".js", ".css"):
            text = each.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
            assert not re.search(r"(https?:)?//[a-z0-9-]+\.[a-z]", text.replace("// ", "")), each.name
    page = (page_folder / "index.html").read_text(encoding="utf-8")
    assert not re.search(r"\son\w+=|\sstyle=|<style|<script(?![^>]*\ssrc=)", page)
    for number, each in enumerate(json.loads(_data(page_folder))["fans"]["name"]):
        assert (page_folder / "fans" / f"{number}.js").is_file(), each


def _data(folder: Path) -> str:
    text = (folder / "data.js").read_text(encoding="utf-8")
    return text[text.index("{") : text.rindex("}") + 1]
