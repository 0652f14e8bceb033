"""Rules 3, 4 and 45 on facts in which one thing was changed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stillroom.core.control_chart import Signal
from stillroom.quality import RULES, Severity
from stillroom.quality.rigs import BridgeFacts, CheckFacts, DayFacts, EraFacts, WatchFacts, check_watch

FLOW, PRESSURE, SPEED, THROUGH = "free-airflow", "maximum-pressure", "free-speed", "airflow"


def check(
    day: str, name: str = "", why_not: str = "", event: str = "", **signals: tuple[Signal, ...]
) -> CheckFacts:
    lines = {each: signals.get(each.replace("-", "_"), ()) for each in (FLOW, PRESSURE, THROUGH, SPEED)}
    said = dict.fromkeys(lines, "60 m³/h, limits 59 to 61")
    return CheckFacts(name or f"H-{day}", day, f"key {day} {name}", why_not, lines, said, event)


def rig(**changes: object) -> WatchFacts:
    """A rig that is checked on each of two days, with no event."""
    sound = WatchFacts(
        rig="chamber",
        reference="Heather/s1",
        checks=(check("2026-03-02"), check("2026-03-03")),
        days=(DayFacts("2026-03-02", {"M1": "Moss"}), DayFacts("2026-03-03", {"F1": "Fern", "F2": "Fern"})),
        eras=(EraFacts(1, "", "", {"M1": "Moss", "F1": "Fern"}, bridged=False),),
        bridges=(),
    )
    return replace(sound, **changes)  # type: ignore[arg-type]


def test_nothing_is_said_of_a_rig_that_is_checked_each_day() -> None:
    assert check_watch(rig()) == []
    assert {3, 4, 45} <= {each.number for each in RULES}


def test_a_day_without_a_check_is_marked_once_with_its_fans() -> None:
    (found,) = check_watch(rig(checks=(check("2026-03-02"),)))
    assert (found.rule, found.subject, found.severity) == (3, "day:chamber 2026-03-03", Severity.MARKS)
    assert found.fans == ("Fern",)
    assert found.mountings == ()
    assert "no run of the reference fan, while F1, F2 were measured" in found.found


def test_what_lies_before_the_first_check_is_one_finding() -> None:
    (found,) = check_watch(rig(checks=(check("2026-03-03"),)))
    assert found.subject == "rig:chamber"
    assert "before its first check on 2026-03-03: M1" in found.found
    (never,) = check_watch(rig(checks=()))
    assert "3 mountings on chamber were measured without any check" in never.found
    assert check_watch(rig(checks=(), reference="")) == []  # absence of a reference fan is told by `today`


def test_a_check_that_is_not_valid_counts_as_none() -> None:
    (found,) = check_watch(rig(checks=(check("2026-03-02"), check("2026-03-03", why_not="no curve"))))
    assert "the check is not valid: no curve" in found.found
    again = (check("2026-03-02"), check("2026-03-03", why_not="no curve"), check("2026-03-03", "second"))
    assert check_watch(rig(checks=again)) == []


def test_outside_three_s_blocks_the_day_unless_a_later_check_lies_inside() -> None:
    out = check("2026-03-03", free_airflow=(Signal.OUTSIDE,))
    (found,) = check_watch(rig(checks=(check("2026-03-02"), out)))
    assert (found.subject, found.severity, found.mountings) == (
        "mounting:H-2026-03-03",
        Severity.BLOCKS,
        ("F1", "F2"),
    )
    assert "free-airflow 60 m³/h, limits 59 to 61: outside 3 s" in found.found
    (repeated,) = check_watch(rig(checks=(check("2026-03-02"), out, check("2026-03-03", "second"))))
    assert (repeated.severity, repeated.mountings) == (Severity.MARKS, ())
    assert "a later check of the day lies inside" in repeated.found
    earlier = (check("2026-03-02"), check("2026-03-03", "first"), out)
    assert check_watch(rig(checks=earlier))[0].blocks


@pytest.mark.parametrize("signal", [Signal.TWO_OF_THREE, Signal.EWMA])
def test_the_other_signals_mark(signal: Signal) -> None:
    (found,) = check_watch(rig(checks=(check("2026-03-02"), check("2026-03-03", maximum_pressure=(signal,)))))
    assert found.severity is Severity.MARKS
    assert signal.value in found.found


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ((SPEED,), "supply voltage"),
        ((PRESSURE,), "tube of the pressure gauge"),
        ((FLOW,), "nozzles' gauge"),
        ((THROUGH,), "nozzles' gauge"),
        ((FLOW, THROUGH), "nozzles' gauge"),
        ((FLOW, PRESSURE), "tachometer, the readings of the air, or a leak"),
        ((FLOW, PRESSURE, SPEED), "the rig has changed, or the reference fan has"),
    ],
)
def test_the_cause_goes_by_the_lines_that_are_out(lines: tuple[str, ...], words: str) -> None:
    signals = {each.replace("-", "_"): (Signal.OUTSIDE,) for each in lines}
    out = check("2026-03-03", event="'seal changed' (2026-03-03)", **signals)
    (found,) = check_watch(rig(checks=(check("2026-03-02"), out)))
    assert words in found.cause
    assert "noted before: 'seal changed'" in found.cause
    assert found.test


def test_what_lasts_is_called_a_drift_or_step() -> None:
    lasting = check("2026-03-03", free_airflow=(Signal.OUTSIDE, Signal.EWMA))
    (found,) = check_watch(rig(checks=(check("2026-03-02"), lasting)))
    assert found.cause.startswith("a drift or a lasting step: ")


def eras(after: dict[str, str], *, bridged: bool = False) -> tuple[EraFacts, ...]:
    return (
        EraFacts(1, "", "", {"M1": "Moss"}, bridged=False),
        EraFacts(
            2, "2026-03-03T08:00", "seal changed", after, bridged, "run the reference fan Heather/s1 2 times"
        ),
    )


def test_an_event_without_a_bridge_marks_and_blocks_where_it_parts_a_fan() -> None:
    (idle,) = check_watch(rig(eras=eras({})))
    assert (idle.rule, idle.blocks) == (4, False)
    assert idle.found.endswith("nothing was measured since")
    assert idle.test == "run the reference fan Heather/s1 2 times"
    parted = check_watch(rig(eras=eras({"M9": "Moss"})))
    assert [(each.rule, each.blocks, each.fans) for each in parted] == [(4, True, ("Moss",))]
    assert check_watch(rig(eras=eras({"M9": "Moss"}, bridged=True))) == []


def test_fans_of_two_eras_without_a_bridge_stand_in_no_common_ranking() -> None:
    found = {each.rule: each for each in check_watch(rig(eras=eras({"F1": "Fern"})))}
    assert (found[45].blocks, found[45].fans, found[45].mountings) == (True, ("Moss",), ())
    assert "Moss was measured on chamber before 'seal changed' (2026-03-03), Fern after it" in found[45].found
    assert check_watch(rig(eras=eras({"F1": "Fern"}, bridged=True))) == []


@pytest.mark.parametrize(
    ("ratio", "agree", "count"),
    [(0.96, True, 0), (1.04, True, 0), (0.93, True, 1), (1.07, True, 1), (0.99, False, 1)],
)
def test_a_bridge_that_is_far_from_one_or_disagrees_is_said(ratio: float, agree: bool, count: int) -> None:
    bridge = BridgeFacts(
        FLOW, (1, 2), "'seal changed' (2026-03-03)", ratio, ratio - 0.01, ratio + 0.01, agree, "k"
    )
    found = check_watch(rig(bridges=(bridge,)))
    assert [each.rule for each in found] == [4] * count
    moved = f"{100 * (ratio - 1):+.1f} %".replace("-", "−")
    assert all(f"moved free-airflow by {moved}" in each.found for each in found)


def test_a_decision_on_an_event_outlives_further_mountings() -> None:
    (first,) = [each for each in check_watch(rig(eras=eras({"F1": "Fern"}))) if each.rule == 4]
    (later,) = [each for each in check_watch(rig(eras=eras({"F1": "Fern", "F2": "Fern"}))) if each.rule == 4]
    assert first.id == later.id


def test_instruments_changed_without_an_event() -> None:
    (found,) = check_watch(rig(swaps=(("2026-03-02", "static_pressure: dp-1 to dp-2"),)))
    assert (found.rule, found.blocks) == (4, False)
    assert "static_pressure: dp-1 to dp-2" in found.found
