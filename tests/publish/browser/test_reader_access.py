"""The reader's page for everybody: keyboard, screen reader, phone, dark, print; axe finds nothing."""

from __future__ import annotations

from typing import Any

import pytest
from browsing import Open

VIEWS = {
    "bars": "#choose?noise=30&through=rad27",
    "table": "#choose?noise=30&through=rad27&as=table",
    "nothing": "#choose?noise=30&through=own&resistance=20+Pax+at+60&fans=2&price=1",
    "fan": "#fan/Tormentil?noise=30&through=rad27",
    "pair": "#compare/Bilberry/Tormentil?noise=30&through=rad27",
    "no pair": "#compare",
}
LEAST_TARGET = 44
"""Height of what is to be hit with a finger [CSS px] (WCAG 2.2, 2.5.5)."""

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.mark.parametrize("view", VIEWS)
def test_axe_finds_nothing_in_light_and_dark(opened: Open, axe: str, view: str) -> None:
    seen = opened(VIEWS[view])
    if view == "fan":
        seen.page.wait_for_selector("#part-stands")
    for each in seen.page.locator("details").all():
        each.evaluate("e => { e.open = true; }")
    seen.page.evaluate(axe)
    assert _axe(seen.page) == []
    seen.page.emulate_media(color_scheme="dark")
    assert _axe(seen.page) == []


def _axe(page: Any) -> list[str]:
    result = page.evaluate(
        "tags => axe.run(document, { runOnly: { type: 'tag', values: tags }, preload: false })", RULES
    )
    assert result["passes"]
    return [f"{each['id']}: {one['html'][:120]}" for each in result["violations"] for one in each["nodes"]]


@pytest.mark.parametrize("width", [320, 800, 1920])
def test_no_width_scrolls_sideways(opened: Open, width: int) -> None:
    seen = opened(VIEWS["bars"], viewport={"width": width, "height": 780})
    for name, link in VIEWS.items():
        seen.go(link)
        if name == "fan":
            seen.page.wait_for_selector("#part-stands")
        over = seen.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert over == 0, name


def test_targets_are_large_enough_on_a_phone(opened: Open) -> None:
    seen = opened(VIEWS["bars"], viewport={"width": 360, "height": 780}, has_touch=True)
    for name, link in VIEWS.items():
        seen.go(link)
        if name == "fan":
            seen.page.wait_for_selector("#part-stands")
        small = seen.page.evaluate(
            """least => [...document.querySelectorAll('a, button, select, summary, input, audio')]
              .filter(e => e.checkVisibility() && !e.classList.contains('skip'))
              .map(e => e.type === 'checkbox' ? e.closest('label') : e)
              .filter(e => e.getBoundingClientRect().height < least - 0.5)
              .map(e => e.outerHTML.slice(0, 80))""",
            LEAST_TARGET,
        )
        assert small == [], name


def test_everything_by_keyboard(opened: Open) -> None:
    seen = opened(VIEWS["bars"])
    page = seen.page
    reached: list[str] = []
    for _ in range(60):
        page.keyboard.press("Tab")
        now = page.evaluate(
            "(e => e.id || e.className || e.textContent.slice(0, 20))(document.activeElement)"
        )
        if reached and now == reached[0]:
            break
        reached.append(now)
    assert reached[0] == "skip"
    for each in ("to-pair", "theme", "limit", "limit-number", "full", "size", "through", "reset", "as-bars", "as-table",
                 "name", "verdict"):  # fmt: skip
        assert each in reached, each
    outlined = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outlined != "none" or reached[-1] != page.evaluate("document.activeElement.id")
    page.locator("#limit").focus()
    page.keyboard.press("End")
    most = page.evaluate("window.stillroomData.limits.high")
    assert seen.text("#headline").startswith(f"At {most:g} dBA")
    page.keyboard.press("Tab")
    page.keyboard.type("3")
    page.keyboard.press("Control+a")
    page.keyboard.type("27.5")
    assert seen.text("#headline").startswith("At 27.5 dBA")
    page.locator("#full").focus()
    page.keyboard.press("Space")
    assert seen.text("#headline").startswith("At full speed")
    page.locator("#rows a.name").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#part-stands")
    assert page.evaluate("document.activeElement.id") == "fan-title"
    page.keyboard.press("Tab")
    page.locator(".back a:visible").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "headline"
    page.locator("#skip").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_a_screen_reader_is_told_the_same(opened: Open) -> None:
    seen = opened(VIEWS["bars"])
    tree = seen.page.locator("body").aria_snapshot().replace("\u00a0", " ")
    for each in (
        "- banner", "- main", "- contentinfo", '- navigation "Views"', '- slider "As loud as, at most"',
        '- spinbutton "Noise limit in dBA"', '- combobox "Size"', '- combobox "Air goes through"', "- list",
        '- button "Bars" [pressed]', '- button "Table"', 'heading "At 30 dBA', "[level=1]",
    ):  # fmt: skip
        assert each in tree, f"{each}\n{tree}"
    assert seen.page.locator("#limit").get_attribute("aria-valuetext") == "30 decibels A"
    seen.go(VIEWS["fan"])
    seen.page.wait_for_selector("#part-stands")
    tree = seen.page.locator("#view-fan").aria_snapshot()
    assert '- heading "Tormentil" [level=1]' in tree
    assert 'img "Static pressure against airflow of Tormentil' in tree
    assert '- table "Its place in each published ranking"' in tree


def test_the_answer_is_read_out_once_the_slider_rests(opened: Open) -> None:
    seen = opened(VIEWS["bars"])
    page = seen.page
    seen.until("document.querySelector('#spoken').textContent !== ''")
    page.evaluate(
        "window.said = []; new MutationObserver(() => said.push(document.querySelector('#spoken').textContent))"
        ".observe(document.querySelector('#spoken'), { childList: true, characterData: true, subtree: true });"
    )
    page.locator("#limit").focus()
    for _ in range(6):
        page.keyboard.press("ArrowRight")
    seen.until("window.said.length > 0")
    assert page.evaluate("said.length") <= 2
    assert " ".join(page.evaluate("said.at(-1)").split()) == seen.text("#headline")
    assert page.locator("#spoken").get_attribute("aria-live") == "polite"


def test_light_and_dark_by_system_and_switch(opened: Open) -> None:
    seen = opened(VIEWS["bars"], color_scheme="dark")
    page = seen.page
    colour = "getComputedStyle(document.body).backgroundColor"
    dark, light = "rgb(15, 20, 27)", "rgb(251, 250, 247)"
    assert page.evaluate(colour) == dark
    page.get_by_label("Colours").select_option("light")
    assert page.evaluate(colour) == light
    page.emulate_media(color_scheme="light")
    page.get_by_label("Colours").select_option("dark")
    assert page.evaluate(colour) == dark
    page.get_by_label("Colours").select_option("")
    assert page.evaluate(colour) == light


def test_printed_it_is_light_and_without_controls(opened: Open) -> None:
    seen = opened(VIEWS["bars"], color_scheme="dark")
    page = seen.page
    page.emulate_media(media="print", color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(251, 250, 247)"
    for each in ("#form", "nav", "#as-table"):
        assert not page.locator(each).is_visible(), each
    assert page.locator("#headline").is_visible()
    assert page.locator("#rows > li").first.is_visible()
    assert page.pdf(format="A4")[:4] == b"%PDF"
