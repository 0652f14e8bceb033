"""What lies around a watch: records that change while it goes on, how it ends, how the files come into the lab."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from growing_rig import HEAD, START, heat_lab, no_findings, rig_in, rows

from stillroom.lab.book import open_book
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.live.states import State
from stillroom.live.watching import RigFiles, watch
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.verbs import watching, working
from stillroom.verbs.intake import add

ONCE = '\n[heat]\nrepeat = "never"\n'
RUN = [(40.0, 14.0, 8.0), (80.0, 11.0, 7.5)]
STEPS = "rig,fan,sample,step,duty [%]\nheat-1,Bracken,1,1,40\nheat-1,Bracken,1,2,80\nheat-1,Bracken,1,3,60\n"


def written(path: Path, lines: list[str]) -> None:
    path.parent.mkdir(exist_ok=True)
    path.write_text("".join(f"{each}\n" for each in lines), encoding="utf-8")


def test_steps_that_are_planned_while_it_goes_on(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings=ONCE)
    written(tmp_path / "logs" / "Bracken s1.csv", [HEAD, *rows(RUN)])
    looks = watch(
        lab,
        [RigFiles("heat-1", tmp_path / "logs")],
        check=no_findings,
        sleep=lambda _seconds: None,
        now=lambda: START + timedelta(seconds=3100),
    )
    assert next(looks)[0].state is State.READY
    (tmp_path / "steps.csv").write_text(STEPS, encoding="utf-8")
    with Lab(lab.path) as other:  # another program
        bring_in(other, [tmp_path / "steps.csv"], {}).refuse_bad()
    later = next(looks)[0]
    assert (later.state, later.reason) == (State.STEADY, "set 60 % next")


@pytest.mark.parametrize("at", ["open_lab", "rig_files", "states_of"])
def test_an_interrupt_at_any_time_is_a_clean_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    def stop(*_args: object, **_more: object) -> None:
        raise KeyboardInterrupt

    lab = heat_lab(tmp_path)
    (tmp_path / "heat-1").mkdir()
    monkeypatch.setattr(watching, at, stop)
    assert watching.watch(tmp_path / "heat-1", lab=lab.path).code == 0


def halved(folder: Path) -> None:
    """One logger with a second file, and another with one."""
    lines = rows(RUN)
    parts = {
        "temp 1": ((0, 1, 2, 5, 6), lines[:400]),
        "temp": ((0, 1, 2, 5, 6), lines[400:]),
        "power": ((0, 3, 4), lines),
    }
    for name, (columns, read) in parts.items():
        picked = [";".join(each.split(";")[at] for at in columns) for each in [HEAD, *read]]
        written(folder / f"Bracken s1 {name}.csv", picked)
        os.utime(folder / f"Bracken s1 {name}.csv", (START.timestamp(), START.timestamp()))


def whole(folder: Path) -> None:
    """One logger with one file."""
    written(folder / "Bracken s1.csv", [HEAD, *rows(RUN)])


@pytest.mark.parametrize(("files", "calls"), [(halved, 2), (whole, 1)])
def test_what_comes_into_the_lab_is_what_was_watched(
    tmp_path: Path, files: Callable[[Path], None], calls: int
) -> None:
    """The calls that it tells at its end give the steps that it showed."""
    lab = heat_lab(tmp_path, steps=STEPS, settings=ONCE)
    files(tmp_path / "heat-1")
    seen = rig_in(lab, tmp_path / "heat-1", no_findings).look(START + timedelta(seconds=3100))
    ended = watching.watch(tmp_path / "heat-1", once=True, lab=lab.path)
    assert len(ended.lines) == calls
    assert ended.lines[0].startswith("heat-1 into the lab, once its loggers are stopped: stillroom add ")
    (watched,) = ended.data["watched"]
    for words in watched["intake"]:
        told = words.index("--as")
        add(
            *(Path(each) for each in words[:told]),
            as_=tuple(words[told + 1 :: 2]),
            no_check=True,
            lab=lab.path,
        )
    working.reduce(lab=lab.path)
    with Lab(lab.path) as opened:
        (node,) = build_graph(open_book(opened)).heating()
        result = results.get(opened.database, node.key)
        assert result is not None
        kept = load_heat(opened.path, result).steps
    assert (node.fan, node.sample, node.rig) == ("Bracken", "s1", "heat-1")
    assert len(kept) == len(seen.steps) == 2
    for one, other in zip(seen.steps, kept, strict=True):
        assert one.step.delta_nominal == pytest.approx(other.delta_nominal, abs=2.0 * other.u_own)
        assert other.forecast is not None
        assert one.step.forecast is not None
        assert other.forecast["low"] - 0.01 <= one.step.forecast["final"] <= other.forecast["high"] + 0.01
