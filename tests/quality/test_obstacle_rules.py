"""The rules on obstacles, on the readings of the invented laboratory with one thing changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from reviewed import Reviewed

from stillroom.quality import Finding, check_obstacle
from stillroom.quality.facts import Beside, ObstacleFacts, ReadingFacts
from stillroom.records.limits import Limits


@pytest.fixture
def radiator(clean: Reviewed) -> ObstacleFacts:
    return next(each for each in clean.facts["Bracken"].obstacles if each.name.startswith("rad27"))


def blocking(obstacle: ObstacleFacts) -> list[Finding]:
    return [each for each in check_obstacle(obstacle, Limits()) if each.blocks]


def changed(obstacle: ObstacleFacts, change: Callable[[ReadingFacts], ReadingFacts]) -> ObstacleFacts:
    return replace(obstacle, runs=tuple(map(change, obstacle.runs)))


def test_a_sound_obstacle_has_nothing_against_it(clean: Reviewed) -> None:
    for obstacle in clean.facts["Bracken"].obstacles:
        assert {each.rule for each in check_obstacle(obstacle, Limits())} <= {23}


def test_what_is_found_of_an_obstacle_blocks_what_goes_through_it(radiator: ObstacleFacts) -> None:
    low = changed(radiator, lambda run: replace(run, read={"nozzle_pressure": np.full(len(run.flow), 12.0)}))
    (found,) = blocking(low)
    assert found.rule == 22
    assert found.through == radiator.name
    assert found.mountings == ()


@pytest.mark.parametrize("name", ["N12", "N25"])
def test_a_plugged_nozzle_in_an_obstacles_run_is_named(radiator: ObstacleFacts, name: str) -> None:
    bores = radiator.bores

    def plugged(run: ReadingFacts) -> ReadingFacts:
        names = tuple(tuple(dict.fromkeys((*each, name))) if len(each) == 1 else each for each in run.nozzles)
        taken = np.array([sum(bores[one] ** 2 for one in each) for each in names])
        true = np.array(
            [sum(bores[one] ** 2 for one in each if one != name or len(each) == 1) for each in names]
        )
        return replace(run, nozzles=names, flow=run.flow * taken / true)

    found = [each for each in blocking(changed(radiator, plugged)) if each.rule == 24]
    assert [each.cause for each in found] == [f"nozzle {name} is listed open but is plugged"]


def test_single_readings_off_the_law(radiator: ObstacleFacts) -> None:
    def off(count: int) -> ObstacleFacts:
        def change(run: ReadingFacts) -> ReadingFacts:
            pressure = run.pressure.copy()
            pressure[5 : 5 + count] *= 1.12
            return replace(run, pressure=pressure)

        return changed(radiator, change)

    (one,) = [each for each in check_obstacle(off(1), Limits()) if each.rule == 29]
    assert not one.blocks
    assert f"line {radiator.runs[0].lines[5]}" in one.place
    assert [each.rule for each in blocking(off(2))] == [29]


def test_one_run_of_two_beside_the_other(radiator: ObstacleFacts) -> None:
    first = radiator.runs[0]
    for factor, count in ((1.02, 0), (1.15, 2)):
        pair = (first, replace(first, run="other", file="other.csv", pressure=first.pressure * factor))
        found = [each for each in check_obstacle(replace(radiator, runs=pair), Limits())
                 if each.rule == 29 and "of those of the other runs" in each.found]  # fmt: skip
        assert len(found) == count
    water = (first, replace(first, run="other", pressure=first.pressure * 9.80665))
    found = [each for each in check_obstacle(replace(radiator, runs=water), Limits()) if each.rule == 29]
    assert any("in Pa and was read as mmH₂O" in each.cause for each in found)


def test_few_readings_dust_and_air(radiator: ObstacleFacts) -> None:
    def rules(obstacle: ObstacleFacts) -> set[int]:
        return {each.rule for each in check_obstacle(obstacle, Limits())} - {23}

    few = changed(radiator, lambda r: replace(r, flow=r.flow[:5], pressure=r.pressure[:5], nozzles=r.nozzles[:5],
                                              own_flow=r.own_flow[:5], own_pressure=r.own_pressure[:5],
                                              lines=r.lines[:5], read={}))  # fmt: skip
    assert 28 in rules(few)
    dated = replace(radiator, date="2026-03-02")
    assert rules(replace(dated, dusty="2026-03-09 rad27 is dusty")) == {33}
    assert rules(replace(dated, dusty="2026-03-01 rad27 is dusty")) == set()
    assert rules(changed(radiator, lambda r: replace(r, beside=Beside(note="fins dusty")))) == {33}
    assert rules(changed(radiator, lambda r: replace(r, marks=("air not recorded",)))) == {31}
