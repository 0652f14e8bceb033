"""A log that its logger renewed amid a run, into a second file: the same steps as of the whole log."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from heat_bench import STEP, TWO, Array, HeatBench, Held, channels, reduced

from stillroom.core.heat.heat_mounting import HeatMounting
from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat
from stillroom.methods.heat.loggers import Stretch, loggers_of

OF = {"fan": "Moss", "sample": "s1", "mounting": "m1"}
THREE = (*TWO, Held(40.0, 800.0, 21.0))
START, MIDDLE, LATER = "2026-03-03T09:00:00", 2400, "2026-03-03T09:40:00"
HOT = ("t hot [°C]", "air in [°C]")


def part(columns: Mapping[str, Array], first: int, last: int | None = None) -> dict[str, Array]:
    """Some seconds of a log, from 0 on."""
    rows = slice(first // STEP, None if last is None else last // STEP)
    found = {name: values[rows] for name, values in columns.items()}
    return found | {"time": found["time"] - found["time"][0]}


def heat_of(bench: HeatBench) -> HeatMounting:
    bench.finish()
    with bench.lab() as lab:
        (node,) = reduced(lab).heats
        return load_heat(lab.path, result_of(lab, node))


@pytest.mark.parametrize("told", [{}, {"session": "one"}, {"logger": "t"}])
def test_a_log_renewed_in_the_second_setting_gives_the_steps_of_the_whole(
    tmp_path: Path, told: dict[str, str]
) -> None:
    columns = channels(THREE)
    whole, renewed = HeatBench(tmp_path / "whole"), HeatBench(tmp_path / "renewed")
    whole.log("a.csv", columns, START, **told, **OF)
    renewed.log("a.csv", part(columns, 0, MIDDLE), START, **told, **OF)
    renewed.log("a-1.csv", part(columns, MIDDLE), LATER, **told, **OF)
    one, other = heat_of(whole), heat_of(renewed)
    assert len(one.steps) == 3
    assert other.steps == one.steps
    assert other.marks == one.marks
    (clock,) = other.clocks
    assert len(clock["files"]) == 2


def test_a_renewed_log_beside_another_logger_has_one_clock(tmp_path: Path) -> None:
    columns = channels(THREE)
    rest = [each for each in columns if each not in {*HOT, "time"}]
    whole, renewed = HeatBench(tmp_path / "whole"), HeatBench(tmp_path / "renewed")
    for bench in (whole, renewed):
        bench.log("p.csv", columns, START, (*rest, HOT[1]), clock_offset=0, **OF)
    whole.log("t.csv", columns, START, HOT, **OF)
    renewed.log("t.csv", part(columns, 0, MIDDLE), START, HOT, **OF)
    renewed.log("t (2).csv", part(columns, MIDDLE), LATER, HOT, **OF)
    one, other = heat_of(whole), heat_of(renewed)
    assert other.steps == one.steps
    assert [len(each["files"]) for each in other.clocks] == [2, 1]


def test_two_loggers_of_the_same_channels_at_once_stay_two(tmp_path: Path) -> None:
    columns, bench = channels(THREE), HeatBench(tmp_path)
    bench.log("a.csv", part(columns, 0, MIDDLE), START, **OF)
    bench.log("b.csv", part(columns, MIDDLE - 200), "2026-03-03T09:36:40", **OF)
    assert [len(each["files"]) for each in heat_of(bench).clocks] == [1, 1]


def test_files_of_which_different_settings_are_told_make_a_run_each(tmp_path: Path) -> None:
    columns, bench = channels(TWO), HeatBench(tmp_path)
    names = [each for each in columns if each not in {"time", "duty [%]"}]
    bench.log("a.csv", part(columns, 0, 1600), START, names, **OF)
    bench.log("b.csv", part(columns, 1600), "2026-03-03T09:26:40", names, **OF)
    rows = "file,rig,fan,sample,mounting,duty [%]\na.csv,heat-1,Moss,s1,m1,100\nb.csv,heat-1,Moss,s1,m1,60\n"
    bench.finish(tables={"runs.csv": rows})
    with bench.lab() as lab:
        (node,) = reduced(lab).heats
        assert len({each.run.placed.setting for each in node.logs}) == 2
        assert [len(each) for each in node.runs] == [1, 1]


def file(name: str, first: float, last: float, channel: str = "hot_temperature", logger: str = "") -> Stretch:
    return Stretch(name, frozenset({channel}), first, last, logger)


@pytest.mark.parametrize(
    ("files", "numbers"),
    [
        ([file("a", 0, 100), file("b", 101, 200), file("c", 201, 300)], [0, 0, 0]),
        ([file("b", 101, 200), file("a", 0, 100)], [0, 0]),
        ([file("a", 0, 100), file("b", 699, 800)], [0, 0]),
        ([file("a", 0, 100), file("b", 700, 800)], [0, 1]),
        ([file("a", 0, 100), file("b", 90, 200)], [0, 1]),
        ([file("a", 0, 100), file("b", 101, 200, "speed")], [0, 1]),
        ([file("a", 0, 100, logger="x"), file("b", 101, 200)], [0, 1]),
        ([file("a", 0, 100), file("b", 0, 100), file("a 2", 101, 200), file("b 2", 101, 200)], [0, 1, 0, 1]),
        ([file("a", 0, 100), file("b", 0, 100), file("c", 101, 200), file("d", 101, 200)], [0, 1, 2, 3]),
        ([file("a", 0, 100), file("c", 101, 200), file("d", 101, 200)], [0, 1, 2]),
        ([file("a", 0, 300), file("b", 0, 100), file("b 2", 101, 300)], [0, 1, 1]),
        ([Stretch("a", frozenset({"speed"}), None, None)] * 2, [0, 1]),
    ],
)
def test_files_of_one_logger_follow_each_other(files: list[Stretch], numbers: list[int]) -> None:
    assert loggers_of(files) == numbers
