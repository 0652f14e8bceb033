"""Levels on boxes against what the made lab heard: straight lines of level whose values at a speed are closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from noise_world import state

from stillroom.compare.claims import ClaimCheck, Measured, check
from stillroom.compare.printed import read_printed
from stillroom.core.claims import ClaimVerdict
from stillroom.lab.claims import check_claims
from stillroom.lab.pictures.claim_pictures import claim_chart, row_of
from stillroom.records.products import Claim
from stillroom.store.lab import Lab


def box(
    fan: str, value: float, condition: str | None, unit: str = "dBA", tolerance: float | None = None
) -> Claim:
    return Claim(fan=fan, quantity="noise", value=value, unit=unit, condition=condition, tolerance=tolerance)


@pytest.fixture
def lab(made: Lab) -> Lab:
    return made


def checked(lab: Lab, *claims: Claim, top: float | None = None) -> list[ClaimCheck]:
    """The claims, of fans whose greatest setting is told or not."""
    book, graph = state(lab)
    graph = replace(graph, sounds=tuple(replace(each, top=top) for each in graph.sounds))
    book.claims.clear()  # type: ignore[attr-defined]
    book.claims.update({each.name: each for each in claims})  # type: ignore[attr-defined]
    return list(check_claims(lab, book, graph, keep=False))


def at(level: float, speed: float) -> float:
    """A straight line of 53 dB a decade through a level at 1500 rpm, in closed form [dB]."""
    return level + 53.0 * math.log10(speed / 1500.0)


@pytest.mark.parametrize("distance", ["0.5 m", "50 cm", "500 mm", "at 50 cm distance"])
def test_a_level_at_the_labs_own_distance_is_compared(lab: Lab, distance: str) -> None:
    slow, fast = (box("Alder", 27.0, f"{distance}, {each}") for each in ("1200 rpm", "full speed, 12 V"))
    found, full = checked(lab, slow, fast, top=1.0)
    assert found.measured is not None
    assert found.measured.value == pytest.approx(at(30.0, 1200.0), abs=0.02)
    assert full.measured is not None
    assert full.measured.value == pytest.approx(at(30.0, 2000.0), abs=0.02)
    assert found.measured.low < found.measured.value < found.measured.high
    assert any("0.5 m" in mark for mark in found.measured.marks)


@pytest.mark.parametrize(
    ("condition", "why"),
    [
        ("1 m, 12 V", "printed at 1 m, measured at 0.5 m"),
        ("12 V", "its distance isn’t printed"),
        ("0.5 m", "its setting isn’t printed"),
        (None, "its distance isn’t printed"),
        ("0.5 m, 12 V, hemi-anechoic", "condition not understood: hemi-anechoic"),
        ("0.5 m, 7 V", "printed at 7 V, measured at 12 V"),
        ("0.5 m, 12 V, ± 10 %", "its tolerance in % says nothing of a level"),
        ("0.5 m, shut-off, 12 V", "printed at shut-off, measured at free delivery"),
    ],
)
def test_another_condition_is_not_checkable_and_never_converted(
    lab: Lab, condition: str | None, why: str
) -> None:
    (found,) = checked(lab, box("Alder", 24.0, condition))
    assert found.verdict is ClaimVerdict.NOT_CHECKABLE
    assert found.why == why
    assert found.measured is None
    assert found.unlike


def test_full_setting_is_compared_only_where_it_was_heard(lab: Lab) -> None:
    claim = box("Alder", 36.0, "0.5 m, 12 V")
    for top, why in (
        (None, "its sound was measured at speeds, without the settings"),
        (0.8, "printed at full setting, measured up to 80 %"),
    ):
        (found,) = checked(lab, claim, top=top)
        assert (found.why, found.unlike) == (why, True)


@pytest.mark.parametrize("unit", ["dB", "dB(C)", "sone", "bel"])
def test_only_a_weighted_levels_are_compared(lab: Lab, unit: str) -> None:
    (found,) = checked(lab, box("Alder", 24.0, "0.5 m, 12 V", unit))
    assert found.verdict is ClaimVerdict.NOT_CHECKABLE
    assert "measured in dBA" in found.why


def test_a_bound_proves_no_box_wrong_nor_right(lab: Lab) -> None:
    (found,) = checked(lab, box("Fir", 10.0, "0.5 m, 600 rpm"))
    assert found.verdict is ClaimVerdict.NOT_CHECKABLE
    assert found.why == "only an upper bound was measured: at most 27 dBA at 0.5 m"
    (above,) = checked(lab, box("Fir", 31.0, "0.5 m, 1500 rpm"))
    assert above.measured is not None


def test_fans_heard_elsewhere_or_never_say_so(lab: Lab) -> None:
    elsewhere, never = checked(
        lab, box("Gorse", 24.0, "0.5 m, 1500 rpm"), box("Hazel", 24.0, "0.5 m, 1500 rpm")
    )
    assert elsewhere.measured is None
    assert elsewhere.why == "sound measured at 1 m, not 0.5 m"
    assert (never.why, never.unlike) == ("not measured", False)


def test_a_level_differs_in_decibels_never_in_per_cent() -> None:
    claim = box("Alder", 20.0, "0.5 m, 12 V, ± 3 dB")
    assert read_printed(claim.condition or "").level_tolerance == 3.0
    found = check(claim, "noise", 20.0, 3.0, Measured(25.5, 24.0, 27.0, 0.75, 2, 2, "key"))
    # 5.5 dB away: beyond 3 dB and the 1.5 dB of the interval; z = 5.5/√(0.75² + 1.5²)
    assert found.verdict is ClaimVerdict.OUTSIDE
    assert found.z == pytest.approx(5.5 / math.hypot(0.75, 1.5))
    assert found.words == "outside, 5.5 dB above the claim"
    assert (found.ratio, found.difference) == (None, pytest.approx(5.5))
    assert found.is_failure
    quieter = check(claim, "noise", 20.0, 3.0, Measured(14.5, 13.0, 16.0, 0.75, 2, 2, "key"))
    assert quieter.words == "outside, 5.5 dB below the claim: no failure"
    within = check(claim, "noise", 20.0, 3.0, Measured(22.9, 21.4, 24.4, 0.75, 2, 2, "key"))
    assert within.verdict is ClaimVerdict.WITHIN_TOLERANCE


def test_a_level_has_words_in_the_chart_and_no_place_among_percentages(lab: Lab) -> None:
    (found,) = checked(lab, box("Alder", 20.0, "0.5 m, 1500 rpm"))
    book, _ = state(lab)
    row = row_of(found)
    assert row.ratio is None
    assert "box 20, measured 30" in row.short
    assert "10.0 dB above the claim" in row.verdict
    chart, _ = claim_chart(book, [found])
    assert "levels in words" in chart.subtitle
    assert "%" not in chart.rows[0].verdict
