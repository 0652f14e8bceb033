"""Sentences and numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom import wording
from stillroom.errors import BadInput


@pytest.mark.parametrize(
    ("half_width", "places"),
    [(1.3, 1), (2.94, 1), (2.96, 0), (3.0, 0), (13, 0), (29.4, 0), (30, -1), (0.13, 2), (0.5, 1),
     (0.0996, 2), (9.96, 0), (130, -1)],
)  # fmt: skip
def test_the_place_follows_the_half_width(half_width: float, places: int) -> None:
    # JCGM 100:2008, 7.2.6: "it usually suffices to quote u … to at most two significant digits".
    assert wording.places_for(half_width) == places


@given(st.floats(1e-6, 1e6))
def test_never_more_than_two_digits_of_the_half_width(half_width: float) -> None:
    shown = round(half_width, wording.places_for(half_width))
    digits = f"{shown:.6e}".split("e", maxsplit=1)[0].replace(".", "").rstrip("0")
    assert 1 <= len(digits) <= 2
    assert shown == pytest.approx(half_width, rel=0.17)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_no_place_without_a_width(bad: float) -> None:
    with pytest.raises(BadInput):
        wording.places_for(bad)


def test_numbers_in_print() -> None:
    assert wording.number(-3.14159, 2) == "−3.14"
    assert wording.number(-0.001, 1) == "0.0"
    assert wording.number(1012) == "1,012"
    assert wording.number(1234567.8, 1) == "1,234,567.8"
    assert wording.number(1264, -2) == "1,300"
    assert wording.bare(0.0) == "0"
    assert wording.bare(48.261) == "48.3"
    assert wording.bare(0.00123456) == "0.00123"
    assert wording.alike((0.0, 12.3456, 123.456, -1e-17)) == ["0.0", "12.3", "123.5", "0.0"]
    with pytest.raises(BadInput):
        wording.number(math.nan)


def test_values_with_their_interval() -> None:
    assert wording.with_interval(48.234, 46.91, 49.52, "m³/h") == "48.2\u00a0m³/h (46.9 to 49.5)"
    assert wording.with_interval(482.34, 469, 495, "Pa") == "482\u00a0Pa (469 to 495)"
    assert wording.with_interval(3.2, None, None, "Pa") == "3.20\u00a0Pa (no interval)"
    assert wording.with_interval(0.21, 0.18, 0.24, "1") == "0.21 (0.18 to 0.24)"
    assert wording.rounded(47.0, 42.0, 52.0) == "47"
    assert wording.spread(38.9, 48.2, "m³/h") == "39 to 48\u00a0m³/h"


def test_lists_counts_and_places() -> None:
    assert wording.listed([]) == ""
    assert wording.listed(["A"]) == "A"
    assert wording.listed(["A", "B"]) == "A and B"
    assert wording.listed(["A", "B", "C"], last="or") == "A, B or C"
    assert wording.listed(list("ABCDE"), most=3) == "A, B and three more"
    assert wording.plural(1, "fan") == "one fan"
    assert wording.plural(0, "fan") == "no fans"
    assert wording.plural(25, "mounting") == "25 mountings"
    assert [wording.ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 102, 111)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "102nd", "111th",
    ]  # fmt: skip
    assert wording.rank_range(1, 4) == "1st to 4th"
    assert wording.rank_range(2, 2) == "2nd"


def test_titles_are_findings() -> None:
    where, claim = "Through the 27 mm radiator", "moves the most air"
    five = ["Bracken", "Sedge", "Moss", "Fern", "Rush"]
    assert (
        wording.ranking_title(five, 12, where, claim)
        == "Through the 27 mm radiator five fans can’t be told apart"
    )
    assert (
        wording.ranking_title(five, 5, where, claim)
        == "Through the 27 mm radiator the five fans can’t be told apart"
    )
    assert (
        wording.ranking_title(five[:2], 6, where, claim)
        == "Through the 27 mm radiator Bracken and Sedge can’t be told apart"
    )
    assert (
        wording.ranking_title(five[:1], 6, where, claim)
        == "Through the 27 mm radiator Bracken moves the most air"
    )
    assert (
        wording.ranking_title(five[:1], 1, where, claim)
        == "Through the 27 mm radiator only Bracken could be measured"
    )
    assert wording.ranking_title([], 0, where, claim) == "Through the 27 mm radiator no fan could be ranked"


def test_alt_text_says_what_range_ties_and_the_place_under_review() -> None:
    alt = wording.ranking_alt(
        "airflow through the 27 mm radiator",
        [("Sedge", "48.2 m³/h"), ("Bracken", "47.9 m³/h"), ("Moss", "38.9 m³/h")],
        ["Sedge", "Bracken"],
        ("Bracken", "1st to 2nd", "47.9 m³/h (46.6 to 49.2)"),
        ["Fern"],
    )
    assert alt == (
        "Bar chart of airflow through the 27 mm radiator, three fans from best to worst. "
        "From 48.2 m³/h (Sedge) to 38.9 m³/h (Moss). Sedge and Bracken are too close to call. "
        "Bracken, the fan under review, is 1st to 2nd with 47.9 m³/h (46.6 to 49.2). Not ranked: Fern."
    )
    alone = wording.ranking_alt("airflow", [("Sedge", "48 m³/h")], ["Sedge"])
    assert alone.startswith("Bar chart of airflow, one fan. ")
    curves = wording.curves_alt("at full speed", ["Sedge"], [("Sedge", "the mesh", "48 m³/h", "not unique")])
    assert curves.endswith("Sedge through the mesh: 48 m³/h, not unique.")
    assert "one sweep" not in wording.collapse_alt("Sedge", 12, 2, "all points lie within 2 %")


def test_names_from_right_to_left_do_not_turn_a_sentence() -> None:
    said = wording.listed(["مروحة", "Sedge"])
    assert said == "\u2068مروحة\u2069 and Sedge"
    assert wording.isolate("Sedge") == "Sedge"


def test_a_name_keeps_its_letters_at_the_start_of_a_sentence() -> None:
    values = [("tornado", "48.2 m³/h"), ("Moss", "38.9 m³/h")]
    alt = wording.ranking_alt("airflow", values, ["tornado"], ("tornado", "1st", "48.2 m³/h"))
    alt += wording.curves_alt("at full speed", ["tornado"], [("tornado", "rad27", "48 m³/h", "stable")])
    alt += wording.obstacles_alt([("tornado", "3 Pa")]) + wording.claims_alt(
        "1 outside", ["tornado, speed: box 1"]
    )
    assert alt.count("tornado") == 7
    assert "Tornado" not in alt
    assert wording.sentence("two findings") == "Two findings."


def test_a_title_names_the_measure_and_among_how_many() -> None:
    by = "best static efficiency"
    assert (
        wording.ranking_title(["Moss"], 5, "At full speed", f"has the {by}", by=by, is_whole=False)
        == "At full speed Moss has the best static efficiency of the five that could be ranked"
    )
    assert (
        wording.ranking_title(["Moss", "Rush"], 5, "At full speed", "", by=by)
        == "At full speed Moss and Rush can’t be told apart by best static efficiency"
    )
    assert (
        wording.ranking_title(["Moss", "Rush"], 5, "At full speed", "", is_whole=False)
        == "At full speed Moss and Rush, of the five that could be ranked, can’t be told apart"
    )
    assert (
        wording.ranking_title(["Moss", "Rush"], 2, "At full speed", "", is_whole=False)
        == "At full speed the two fans that could be ranked can’t be told apart"
    )


def test_a_sentence_in_the_labs_units_keeps_its_digits() -> None:
    """Exact factors: 1 CFM is 1.69901082 m³/h, 1 mmH₂O is 9.80665 Pa (NIST SP 811, Appendix B)."""
    units = {"flow": "CFM", "pressure": "mmH₂O"}
    told = (
        "from 0.0 to 98.5 m³/h, at 35.4, 38.6 m³/h; less than 25 Pa; the zero moved to 1.71 Pa at 12 points"
    )
    assert wording.in_lab_units(told, units) == (
        "from 0.0 to 58.0 CFM, at 20.8, 22.7 CFM; less than 2.5 mmH₂O; the zero moved to 0.174 mmH₂O at 12 points"
    )
    assert wording.in_lab_units(told, {"flow": "m³/h"}) == told
    assert wording.in_lab_units("in CFM and was read as m³/h; k of 3 Pa/(m³/h)", units) == (
        "in CFM and was read as m³/h; k of 3 Pa/(m³/h)"
    )
