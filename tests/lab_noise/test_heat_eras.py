"""Eras of a heat rig and its reference fan: bridges by a difference of known size, refusal, checks and their marks."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from heat_world import FANS, HeatLab, Run, make_heat_lab, rise
from noise_world import line_of, state, why

from stillroom.lab.eras.control_charts import control_charts
from stillroom.lab.eras.watch_facts import UNCHECKED, unchecked, watch_facts
from stillroom.quality.rigs import check_watch
from stillroom.records.acts import Event
from stillroom.records.fields import as_json
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

STEP = 0.9
"""What the change of the loop took from every rise [K]."""

CHANGE = Event(time="2026-03-10T08:00", text="pump replaced", rig="heat-1", changes_results=True)


def lower(at_1500: float) -> float:
    """A rise at 1500 rpm after the change."""
    return at_1500 - STEP


def runs(reference: tuple[int, int]) -> tuple[Run, ...]:
    """Alder before the change, Birch after it, and the reference fan Hazel so many times on each side."""
    at = (1500.0,)
    found = [Run("Alder", 12.0, at, date="2026-03-02"), Run("Birch", lower(11.5), at, date="2026-03-12")]
    found += [Run("Hazel", 13.0, at, mounting=f"a{n}", date=f"2026-03-0{2 + n}") for n in range(reference[0])]
    found += [
        Run("Hazel", lower(13.0), at, mounting=f"b{n}", date=f"2026-03-1{2 + n}") for n in range(reference[1])
    ]
    return tuple(found)


def lab_with(base: Path, planned: tuple[Run, ...], *events: Event) -> HeatLab:
    made = make_heat_lab(base, FANS, planned)
    made.lab.__exit__(None, None, None)
    settings = made.lab.path / "lab.toml"
    told = settings.read_text(encoding="utf-8")
    settings.write_text('reference_fan = "Hazel/s1"\n' + told, encoding="utf-8")
    made = HeatLab(Lab(made.lab.path), made.nodes)
    made.lab.write([Note(Event.kind, each.name, as_json(each)) for each in events])
    return made


@pytest.fixture
def bridged(tmp_path: Path) -> Iterator[HeatLab]:
    made = lab_with(tmp_path / "lab", runs((3, 3)), CHANGE)
    with made.lab:
        yield made


def test_a_run_of_before_the_change_is_brought_over_by_the_reference_fan(bridged: HeatLab) -> None:
    found = bridged.ranked(speed=25.0)
    alder = line_of(found, "Alder")
    assert alder.value == pytest.approx(rise(12.0, 1500.0) - STEP, abs=0.01)
    assert "bridged" in alder.marks
    (note,) = found.bridges
    assert (note.rig, note.era, note.unit) == ("heat-1", (1, 2), "K")
    assert note.change == pytest.approx(-STEP, abs=1e-4)
    assert "−0.90 K" in note.words
    kept = results.get(bridged.lab.database, alder.key)
    assert kept is not None
    assert any(each.startswith("bridge/heat-1") for each in kept.body["contributions"])


def test_without_a_sample_in_common_a_run_of_before_is_left_out_with_what_would_help(tmp_path: Path) -> None:
    made = lab_with(tmp_path / "lab", runs((1, 0)), CHANGE)
    with made.lab:
        found = made.ranked(speed=25.0)
        assert "no bridge: run the reference fan Hazel/s1 on heat-1" in why(found, "Alder")
        assert not found.bridges
        watched = next(
            each for each in watch_facts(made.lab, state(made.lab)[0], made.graph, {}) if each.rig == "heat-1"
        )
        assert {4, 45} <= {each.rule for each in check_watch(watched)}


def test_days_without_a_check_mark_their_runs(bridged: HeatLab) -> None:
    marks = unchecked(bridged.lab, state(bridged.lab)[0], bridged.graph, {})
    assert "heat of Hazel-a0" not in marks
    alone = bridged.ranked(speed=25.0)
    assert UNCHECKED not in line_of(alone, "Alder").marks  # Hazel was run that day


def test_a_day_on_which_no_reference_fan_ran_is_said_beside_the_number(tmp_path: Path) -> None:
    made = lab_with(tmp_path / "lab", (Run("Alder", 12.0, (1500.0,), date="2026-03-20"), *runs((3, 3))[2:]))
    with made.lab:
        assert UNCHECKED in line_of(made.ranked(speed=25.0), "Alder").marks


def test_the_checks_of_the_rig_are_charted_with_the_event(bridged: HeatLab) -> None:
    (chart,) = control_charts(bridged.lab, state(bridged.lab)[0], bridged.graph, "heat-1")
    assert (chart.what, chart.unit, chart.fan) == ("heat", "K", "Hazel/s1")
    assert chart.values == pytest.approx([13.0] * 3 + [13.0 - STEP] * 3, abs=1e-3)
    assert chart.eras == (1, 1, 1, 2, 2, 2)
    assert any(each.text == "pump replaced" and each.new_era for each in chart.events)


def test_a_check_far_outside_its_limits_blocks_the_day(tmp_path: Path) -> None:
    at = (1500.0,)
    checks = [
        Run("Hazel", 13.0 + 0.02 * (-1) ** n, at, mounting=f"c{n}", date=f"2026-03-{2 + n:02d}")
        for n in range(12)
    ]
    bad = Run("Hazel", 15.0, at, mounting="bad", date="2026-03-20")
    made = lab_with(tmp_path / "lab", (*checks, bad, Run("Alder", 12.0, at, date="2026-03-20")))
    with made.lab:
        book, _ = state(made.lab)
        watched = next(each for each in watch_facts(made.lab, book, made.graph, {}) if each.rig == "heat-1")
        found = [each for each in check_watch(watched) if each.blocks]
        assert [each.mountings for each in found] == [("heat of Alder-h1",)]
        assert "liquid" in found[0].cause
