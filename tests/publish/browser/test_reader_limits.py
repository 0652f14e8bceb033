"""A link that asks for a noise limit which nobody measured."""

from __future__ import annotations

from browsing import Open


def test_a_limit_that_nobody_measured_is_said(opened: Open) -> None:
    seen = opened()
    limits = seen.page.evaluate("window.stillroomData.limits")
    for asked, end, side in (
        (limits["low"] - 4, limits["low"], "below"),
        (limits["high"] + 9, limits["high"], "above"),
    ):
        seen.go(f"#choose?noise={asked}&through=rad27")
        assert seen.text("#beyond") == f"Not measured {side} {end} dBA; shown at {end} dBA."
        assert seen.text("#headline").startswith(f"At {end} dBA")
        assert f"noise={asked}" in seen.page.evaluate("location.hash")
    seen.page.locator("#limit").focus()
    seen.page.keyboard.press("ArrowLeft")
    assert not seen.page.locator("#beyond").is_visible()
    seen.go("#choose?noise=30&through=rad27")
    assert not seen.page.locator("#beyond").is_visible()
