"""Eras of a rig, bridges and legacy numbers from files to a ranking, on a small rig whose change is known."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from era_world import FANS, Visit, write_lab

from stillroom.compare.standing import Ranking, Standing
from stillroom.core.control_chart import Signal
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.asking import answer
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import open_book
from stillroom.lab.eras.control_charts import ControlChart, control_chart, control_charts
from stillroom.lab.eras.eras import eras_of, placing_of
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.field import Asked
from stillroom.lab.findings import findings
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.tracing import follow
from stillroom.measures import Condition, measure_named
from stillroom.quality import Finding
from stillroom.records.acts import Event, Mounting
from stillroom.records.fields import as_json
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.verbs import answers, day, noting

STEP = 0.97
"""By what the rig reads flow otherwise since the seal was changed."""

SEAL = "2026-03-15T08:00,chamber,seal changed,yes\n"
SCATTER = (0.4, -0.6, 0.1, 0.8, -0.3, -0.9, 0.5, -0.1, 0.7, -0.5, 0.2, -0.4, 0.3, -0.2)
"""How mountings scatter, in tenths of a per cent [invented]."""


def checks(days: range, *, step: float = 1.0, first: int = 0, flow: float = 0.0) -> list[Visit]:
    """A check of the reference fan on each day of March; `flow` is a drift per day."""
    return [
        Visit(f"H{day}", "Heather", f"2026-03-{day:02d}",
              flow=step * (1.0 + 0.001 * SCATTER[(day + first) % 14]) * (1.0 + flow * (day - days[0])))
        for day in days
    ]  # fmt: skip


def others(step: float = 1.0) -> list[Visit]:
    return [
        Visit("M1", "Moss", "2026-03-03", flow=1.001), Visit("M2", "Moss", "2026-03-05", flow=0.999),
        Visit("F1", "Fern", "2026-03-16", flow=step), Visit("F2", "Fern", "2026-03-17", flow=step * 1.002),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def bridged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Moss before the change of the seal, Fern after it, the reference fan on both sides."""
    visits = checks(range(1, 13)) + checks(range(16, 20), step=STEP) + others(STEP)
    return write_lab(tmp_path_factory.mktemp("bridged"), visits, SEAL)


@pytest.fixture(scope="module")
def unbridged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_lab(tmp_path_factory.mktemp("unbridged"), checks(range(1, 13)) + others(STEP), SEAL)


def ranked(
    path: Path,
    measure: str = "free-airflow",
    speed: float | None = None,
    only: tuple[str, ...] = (),
    unit: str = "m³/h",
) -> Ranking:
    with Lab(path) as lab:
        book = open_book(lab)
        graph = build_graph(book)
        reduce_lab(lab, graph, workers=1)
        asked = Asked(measure_named(measure), Condition(speed), only=only)
        return rank_fans(lab, book, graph, asked, workers=1).in_unit(unit)


def line(found: Ranking, fan: str) -> Standing:
    return next(each for each in found.standings if each.fan == fan)


def found_in(path: Path) -> list[Finding]:
    with Lab(path) as lab:
        book = open_book(lab)
        return findings(lab, book, build_graph(book))


def chart_of(path: Path, what: str = "free-airflow") -> ControlChart:
    with Lab(path) as lab:
        book = open_book(lab)
        return control_chart(lab, book, build_graph(book), "chamber", what)


# --- eras --------------------------------------------------------------------------------------------------


def test_an_event_that_changes_results_begins_an_era(bridged: Path) -> None:
    with Lab(bridged) as lab:
        book = open_book(lab)
    elsewhere = {
        "a": Event(time="2026-03-02T08:00", text="moved", rig="duct", changes_results=True),
        "b": Event(time="2026-03-02T08:00", text="zeros taken", rig="chamber", changes_results=False),
    }
    book = replace(book, events={**book.events, **elsewhere})
    first, second = eras_of(book, "chamber")
    assert (first.number, first.began, second.number, second.why) == (1, "", 2, "seal changed")
    assert len(eras_of(book, "duct")) == 2
    everywhere = Event(time="2026-03-20T08:00", text="new supply", changes_results=True)
    more = replace(book, events={**book.events, "c": everywhere})
    assert [len(eras_of(more, rig)) for rig in ("chamber", "duct", "")] == [3, 3, 2]


@pytest.mark.parametrize(
    ("date", "era", "doubtful"),
    [
        ("2026-03-14", 1, False),
        ("2026-03-15", 2, True),
        ("2026-03-15T07:59", 1, False),
        ("2026-03-15T08:00:30", 2, False),
        ("2026-03-15 09:10", 2, False),
        ("2026-03-16", 2, False),
    ],
)
def test_the_day_of_an_event_counts_by_the_time_where_it_is_told(
    bridged: Path, date: str, era: int, doubtful: bool
) -> None:
    with Lab(bridged) as lab:
        book = open_book(lab)
    placing = placing_of(book, "chamber", date)
    assert (placing.era.number, bool(placing.doubt)) == (era, doubtful)


# --- bridges in a ranking -----------------------------------------------------------------------------------


def test_a_fan_of_the_earlier_era_is_brought_over_by_the_reference_fan(bridged: Path) -> None:
    found = ranked(bridged)
    moss = line(found, "Moss")
    assert moss.value == pytest.approx(FANS["Moss"][0] * STEP, rel=0.004)  # as the rig would read it now
    assert "bridged" in moss.marks
    assert "bridged" not in line(found, "Fern").marks
    (bridge,) = found.bridges
    assert bridge.low < STEP < bridge.high
    assert bridge.change == pytest.approx(STEP, rel=0.003)
    assert (bridge.era, bridge.samples, bridge.mountings, bridge.agree) == (
        (1, 2),
        ("Heather/s1",),
        (12, 4),
        True,
    )
    assert found.conditions["era"] == "2 of chamber (since 'seal changed', 2026-03-15)"
    assert found.as_dict()["bridges"] == [bridge.as_dict()]


def test_the_bridge_widens_the_interval_and_is_one_source(bridged: Path, tmp_path: Path) -> None:
    """The same mountings on a rig that was never changed have a narrower interval."""
    moss = line(ranked(bridged), "Moss")
    steady = write_lab(tmp_path, checks(range(1, 13)) + checks(range(16, 20)) + others())
    plain = line(ranked(steady), "Moss")
    wider = (moss.high - moss.low) / moss.value / ((plain.high - plain.low) / plain.value)
    assert 1.0 < wider < 1.6
    with Lab(bridged) as lab:
        result = results.get(lab.database, moss.key)
        assert result is not None
        assert set(result.inputs["bridges"]) == {"M1", "M2"}
        assert any(name.startswith("bridge/chamber, free-airflow") for name in result.body["contributions"])


def test_a_fan_has_the_same_number_whichever_fans_are_asked_for(bridged: Path) -> None:
    whole, alone = ranked(bridged), ranked(bridged, only=("Moss",))
    assert line(alone, "Moss").value == line(whole, "Moss").value
    with Lab(bridged) as lab:
        book = open_book(lab)
        said = answer(lab, book, build_graph(book), "Moss", Condition())
    free = next(each for each in said.numbers if each.measure.name == "free-airflow")
    assert free.value is not None
    assert free.value * 3600.0 == pytest.approx(line(whole, "Moss").value, rel=1e-12)
    assert "bridged" in free.marks
    assert "era" in said.conditions


def test_a_bridge_can_be_followed_and_keeps_its_key(bridged: Path) -> None:
    first, again = ranked(bridged).bridges, ranked(bridged).bridges
    assert first == again
    with Lab(bridged) as lab:
        said = follow(lab, first[0].key)
        assert said.title.startswith("bridge of chamber, free-airflow, full setting, era 1 to 2: × 0.97")
        assert "12 mountings before and 4 after 'seal changed'" in said.title
        assert any("mounting value of H16" in each for each in said.lines)
        kept = results.get(lab.database, first[0].key)
        assert kept is not None
        assert kept.body["after"]["H16"] == "2026-03-16"


def test_another_measure_has_a_bridge_of_its_own(bridged: Path) -> None:
    (pressure,) = ranked(bridged, "maximum-pressure", unit="Pa").bridges
    assert pressure.change == pytest.approx(1.0, rel=0.004)


def test_without_a_bridge_fans_are_left_out_with_what_would_bridge_them(unbridged: Path) -> None:
    found = ranked(unbridged)
    assert [each.fan for each in found.standings] == ["Fern"]
    why = {each.fan: each.why for each in found.excluded}
    assert set(why) == {"Moss", "Heather"}
    assert (
        "measured in era 1 of chamber, not in era 2 of chamber (since 'seal changed', 2026-03-15)"
        in why["Moss"]
    )
    assert "no bridge: run the reference fan Heather/s1 on chamber 2 times" in why["Moss"]
    assert not found.bridges


def test_without_a_bridge_a_fan_alone_keeps_the_number_of_its_own_era(unbridged: Path) -> None:
    found = ranked(unbridged, only=("Moss",))
    assert line(found, "Moss").value == pytest.approx(FANS["Moss"][0], rel=0.004)
    assert found.conditions["era"] == "1 of chamber"


def test_any_sample_bridges_and_the_reference_fan_chooses_no_era(tmp_path: Path) -> None:
    """Right after the change only the reference fan has been run: the others go on standing in their era."""
    visits = [*checks(range(1, 3)), *checks(range(16, 18), step=STEP), Visit("M1", "Moss", "2026-03-03")]
    path = write_lab(tmp_path, visits, SEAL)
    found = ranked(path)
    assert found.conditions["era"] == "1 of chamber"
    assert line(found, "Moss").value == pytest.approx(FANS["Moss"][0], rel=0.004)
    assert line(found, "Heather").value == pytest.approx(FANS["Heather"][0], rel=0.004)
    (back,) = found.bridges
    assert (back.era, back.change) == ((2, 1), pytest.approx(1.0 / STEP, rel=0.003))


def test_a_run_on_the_day_of_the_event_is_said(tmp_path: Path) -> None:
    visits = [
        *checks(range(1, 3)),
        *checks(range(15, 17), step=STEP),
        Visit("F1", "Fern", "2026-03-15", flow=STEP),
    ]
    marks = line(ranked(write_lab(tmp_path, visits, SEAL)), "Fern").marks
    assert "same day as seal changed (2026-03-15): counted as after it" in marks


def test_a_blocked_mounting_serves_no_bridge(bridged: Path) -> None:
    with Lab(bridged) as lab:
        book = open_book(lab)
        blocked = {f"H{number}": "doubted" for number in range(16, 20)}
        found = rank_fans(lab, book, build_graph(book), Asked(measure_named("free-airflow"), Condition()),
                          blocked=blocked, workers=1)  # fmt: skip
    assert not found.bridges
    assert "Moss" in {each.fan for each in found.excluded}


# --- the control chart ---------------------------------------------------------------------------------------


def test_each_era_has_a_base_period_of_its_own(bridged: Path) -> None:
    chart = chart_of(bridged)
    assert (chart.rig, chart.fan, chart.unit) == ("chamber", "Heather/s1", "m³/s")
    assert chart.speed == pytest.approx(FANS["Heather"][2] / 60.0)
    assert chart.eras == (1,) * 12 + (2,) * 4
    assert [each is None for each in chart.limits] == [True] * 10 + [False] * 2 + [True] * 4
    assert chart.centre[11] == pytest.approx(FANS["Heather"][0] / 3600.0, rel=0.002)
    assert not any(chart.signals)
    assert not chart.established
    assert [(each.text, each.new_era) for each in chart.events] == [("seal changed", True)]


def test_checks_are_taken_at_one_speed_and_the_speed_has_a_line_of_its_own(tmp_path: Path) -> None:
    """4 % more speed by the supply: flow at the checks' speed stays, the speed's own line tells."""
    fast = [replace(checks(range(20, 21))[0], speed=1.04)]
    path = write_lab(tmp_path, checks(range(1, 14)) + fast)
    assert chart_of(path).values[-1] == pytest.approx(FANS["Heather"][0] / 3600.0, rel=0.004)
    assert not any(chart_of(path).signals)
    speed = chart_of(path, "free-speed")
    assert Signal.OUTSIDE in speed.signals[-1]
    assert speed.speed is None
    (finding,) = [each for each in found_in(path) if each.rule == 3]
    assert "supply voltage" in finding.cause
    assert finding.subject == "mounting:H20"


def test_a_drift_is_seen_by_the_moving_average_before_a_check_lies_outside(tmp_path: Path) -> None:
    drifting = checks(range(13, 27), flow=0.0002)
    path = write_lab(tmp_path, checks(range(1, 13)) + drifting)
    chart = chart_of(path)
    seen = next(place for place, said in enumerate(chart.signals) if Signal.EWMA in said)
    assert 13 <= seen <= 24
    assert not any(Signal.OUTSIDE in said for said in chart.signals[: seen + 1])
    found = [each for each in found_in(path) if each.rule == 3]
    assert all(not each.blocks for each in found)
    assert "drift" in found[0].cause


def test_what_the_chart_can_not_show_is_refused(bridged: Path) -> None:
    with Lab(bridged) as lab:
        book = open_book(lab)
        graph = build_graph(book)
        assert reference_name(book, graph) == "Heather/s1"
        assert [each.what for each in control_charts(lab, book, graph, "chamber")] == [
            "free-airflow", "maximum-pressure", "free-speed",
        ]  # fmt: skip
        with pytest.raises(UnknownThing, match="noise"):
            control_chart(lab, book, graph, "chamber", "noise")
        with pytest.raises(NotPossible, match="no run of Heather on duct"):
            control_chart(lab, book, graph, "duct")
        named = replace(book, settings=replace(book.settings, reference_fan=""))
        with pytest.raises(NotPossible, match="no reference fan"):
            control_chart(lab, named, graph, "chamber")


# --- findings ------------------------------------------------------------------------------------------------


def test_findings_of_a_bridged_and_an_unbridged_rig(bridged: Path, unbridged: Path) -> None:
    assert [each for each in found_in(bridged) if each.rule in {4, 45}] == []
    said = {each.rule: each for each in found_in(unbridged) if each.rule in {4, 45}}
    assert not said[4].blocks
    assert "'seal changed' (2026-03-15) on chamber has no bridge" in said[4].found
    assert said[45].blocks
    assert said[45].fans == ("Heather", "Moss")
    assert said[45].mountings == ()


def test_days_without_a_check_mark_their_runs(bridged: Path, unbridged: Path) -> None:
    assert [each for each in found_in(bridged) if each.rule == 3] == []
    days = {each.subject for each in found_in(unbridged) if each.rule == 3}
    assert days == {"day:chamber 2026-03-16", "day:chamber 2026-03-17"}
    assert "no valid reference check that day" in line(ranked(unbridged), "Fern").marks
    assert "no valid reference check that day" not in line(ranked(bridged), "Fern").marks


def test_a_check_outside_its_limits_blocks_the_day(tmp_path: Path) -> None:
    visits = [*checks(range(1, 14)), Visit("H20", "Heather", "2026-03-20", flow=0.95),
              Visit("M1", "Moss", "2026-03-20"), Visit("M2", "Moss", "2026-03-03")]  # fmt: skip
    path = write_lab(tmp_path, visits)
    (finding,) = [each for each in found_in(path) if each.rule == 3 and each.subject == "mounting:H20"]
    assert finding.blocks
    assert finding.mountings == ("M1",)
    assert finding.fans == ("Moss",)
    assert "outside 3 s" in finding.found
    assert "exclude" in finding.actions
    with Lab(path) as lab:
        book = open_book(lab)
        assert open_blocks([finding], book.decisions) == {
            "M1": "No valid reference-fan check that day (rule 3)"
        }


def test_an_instrument_changed_without_an_event_is_marked(tmp_path: Path) -> None:
    path = write_lab(tmp_path, checks(range(1, 3)))
    with Lab(path) as lab:
        for name in ("dp-1", "dp-2"):
            body = {"rig": "chamber", "roles": {"static_pressure": name}, "accuracy": "± 1 %",
                    "accuracy_relative": 0.01}  # fmt: skip
            lab.write([Note("rig", "chamber", body)])
    (finding,) = [each for each in found_in(path) if each.rule == 4]
    assert "static_pressure: dp-1 to dp-2" in finding.found
    assert not finding.blocks


# --- legacy numbers ------------------------------------------------------------------------------------------

HEADER = "fan,measure,value,unit,low,high,obstacle,speed [rpm],duty [%],date,method,source\n"
LEGACY = (
    "Rush,free-airflow,65,m³/h,,,,,,2021-05-01,one nozzle,old sheet\n"
    "Sundew,free-airflow,40,CFM,39.5,40.5,,,,2022-01-01,,old sheet\n"
    "Sundew,free-airflow,30,CFM,,,,1200,,2022-01-01,,old sheet\n"
    "Moss,free-airflow,70,m³/h,,,,,100,2021-01-01,,\n"
    "Odd,free-airflow,3,Pa,,,,,,,,\n"
    "Far,free-airflow,50,m³/h,,,,900,,,,\n"
    "Half,free-airflow,50,m³/h,49,,,,,,,\n"
)


@pytest.fixture(scope="module")
def with_legacy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    visits = [*checks(range(1, 4)), Visit("M1", "Moss", "2026-03-02"), Visit("M2", "Moss", "2026-03-03")]
    return write_lab(tmp_path_factory.mktemp("legacy"), visits, tables={"legacy": HEADER + LEGACY})


def test_legacy_numbers_stand_under_the_measured_fans_marked(with_legacy: Path) -> None:
    found = ranked(with_legacy)
    assert [each.fan for each in found.standings] == ["Moss", "Heather", "Sundew", "Rush"]
    rush, sundew = line(found, "Rush"), line(found, "Sundew")
    assert rush.marks == ("legacy", "from old sheet, 2021-05-01", "method: one nozzle")
    assert (rush.how.value, rush.verdict.value, rush.mountings) == ("legacy", "not resolved", 0)
    assert (rush.value, math.isinf(rush.high)) == (65.0, True)
    assert sundew.value == pytest.approx(40 * 1.69901, rel=1e-5)  # NIST SP 811: 1 CFM = 1.69901 m³/h
    assert sundew.low == pytest.approx(39.5 * 1.69901, rel=1e-5)
    assert line(found, "Moss").verdict.value == "leader"
    assert found.best == ("Moss",)
    assert "legacy number 70 m³/h of 2021-01-01, not used" in line(found, "Moss").marks


def test_a_legacy_number_holds_under_its_own_condition_only(with_legacy: Path) -> None:
    why = {each.fan: each.why for each in ranked(with_legacy).excluded}
    assert why["Far"] == "only a legacy number under another condition: 50 m³/h at 900 rpm"
    assert "expected a flow" in why["Odd"]
    assert "both or none" in why["Half"]
    slow = ranked(with_legacy, speed=20.0)
    assert line(slow, "Sundew").value == pytest.approx(30 * 1.69901, rel=1e-5)
    assert "40 CFM at full setting; 30 CFM at 1200 rpm" not in str(slow.excluded)
    assert "Rush" in {each.fan for each in slow.excluded}


def test_the_doors_carry_legacy_numbers(with_legacy: Path) -> None:
    said = answers.rank("free-airflow", lab=with_legacy)
    rows = {row[1]: row for row in said.tables[0][1].rows}
    assert rows["Rush"][0] == "none"
    assert rows["Rush"][2:7] == ("65.0", "not told", "not resolved", "legacy", "no raw data")
    text = answers.rank("free-airflow", csv=True, lab=with_legacy).title
    rush = next(each for each in text.splitlines() if each.startswith("Rush"))
    assert rush.startswith('Rush,65.0,,,m³/h,,,,not resolved,legacy,0,0,"legacy; from old sheet, 2021')
    key = line(ranked(with_legacy), "Rush").key
    traced = answers.trace(key, lab=with_legacy)
    assert "65 m³/h, as it was told: there are no raw data" in traced.title


# --- the day -------------------------------------------------------------------------------------------------


def test_today_tells_the_checks_the_eras_and_what_is_open(
    bridged: Path, unbridged: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(day, "now", lambda: "2026-03-19T09:00:00+01:00")
    said = day.today(lab=bridged)
    ((heading, table),) = said.tables
    assert heading == "Reference fan"
    first = table.rows[0]
    assert first[:3] == ("chamber", "free airflow, m³/h at 1,500 rpm", "today")
    assert first[-1] == "not established: four checks of ten"
    assert "Reference fan Heather/s1 on chamber: measured today" in said.lines
    assert said.data["reference"][0]["checks"] == 16
    assert said.data["eras_without_bridge"] == []
    other = day.today(lab=unbridged)
    assert "Reference fan Heather/s1 on chamber: last measured 2026-03-12" in other.lines
    assert other.data["reference"][0]["established"]
    assert other.tables[0][1].rows[0][-1] == "inside its limits"
    (era,) = other.data["eras_without_bridge"]
    assert era["advice"] == "run the reference fan Heather/s1 on chamber 2 times"
    assert any(each.startswith("No bridge on chamber: 'seal changed'") for each in other.lines)
    assert any("Findings open" in each for each in other.lines)
    assert any("seal changed" in each for each in other.lines if each.startswith("Noted"))


def test_today_says_what_it_can_not_look_at(bridged: Path, tmp_path: Path) -> None:
    path = write_lab(tmp_path, checks(range(1, 3)))
    with Lab(path) as lab:
        moved = Mounting(mounting="H1", fan="Heather", sample="s1", rig="chamber", date="2026-03-04")
        lab.write([Note(Mounting.kind, "H1", as_json(moved))])
        lab.write([Note("fan", "Heather", {"fan": "Heather", "size": 0.14})])
    said = day.today(lab=path)
    assert not said.tables
    assert "Reference fan Heather/s1: not looked at before the curves are worked out" in said.lines


def test_a_note_that_changes_results_says_what_bridges_it(tmp_path: Path) -> None:
    path = write_lab(tmp_path, [*checks(range(1, 3)), Visit("M1", "Moss", "2026-03-02")])
    assert noting.note("zeros taken", rig="chamber", lab=path).lines == ()
    said = noting.note("gauge swapped", rig="chamber", changes_results=True, lab=path)
    assert said.lines[0].startswith("Era 2 of chamber begins")
    assert said.lines[1] == "To bridge it: run the reference fan Heather/s1 on chamber 2 times."
    assert said.data["eras"][0]["era"] == 2
