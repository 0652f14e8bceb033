"""The word for a run right after it came in: on exports of the invented laboratory, sound and at fault."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from stillroom.demo.write import write_exports
from stillroom.lab.book import open_book
from stillroom.lab.intake.batch import Added
from stillroom.lab.intake.checked import Checked, Word
from stillroom.lab.intake.checking_in import check_in
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.watch.watch_picture import newest
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("bench")
    write_exports(base / "bench", faults=False, truth_path=base / "truth.json")
    return base / "bench"


@pytest.fixture
def lab(tmp_path: Path, bench: Path) -> Lab:
    """A lab with the tables of the bench, without runs."""
    folder.make(tmp_path / "lab", template("Test").replace("# trials = 2000", "trials = 500"))
    opened = Lab(tmp_path / "lab")
    bring_in(opened, [*bench.glob("*.toml"), *bench.glob("*.csv")], {})
    return opened


SAID = {"fan": "Bracken", "sample": "s1", "mounting": "a", "rig": "chamber"}


def sweeps(bench: Path, mounting: str) -> list[Path]:
    """The sweeps of one mounting of Bracken, the fastest first."""
    return sorted(
        (bench / "exports" / "Bracken" / "s1" / mounting).iterdir(), key=lambda each: -int(each.stem[:-3])
    )


def copied(tmp_path: Path, path: Path, *change: str) -> Path:
    """A sweep under a name that no row of the run table speaks of, with a text replaced."""
    copy = tmp_path / "added" / path.name
    copy.parent.mkdir(exist_ok=True)
    text = path.read_text(encoding="utf-8")
    copy.write_text(text.replace(*change) if change else text, encoding="utf-8")
    return copy


def checked(lab: Lab, path: Path, **said: str) -> list[Checked]:
    added: Added = bring_in(lab, [path], SAID | {"duty": path.stem[:-3]} | said)
    assert not added.bad
    return check_in(lab, added.runs, workers=1)[0]


def test_the_first_run_has_nothing_to_compare_with_the_next_ones_agree(
    lab: Lab, bench: Path, tmp_path: Path
) -> None:
    first, *others = (copied(tmp_path, each) for each in sweeps(bench, "m1"))
    (one,) = checked(lab, first)
    assert (one.word, one.reason) == (Word.FIRST, "nothing to compare it with yet")
    rest = [checked(lab, each)[0] for each in others]
    assert {each.word for each in rest} == {Word.AGREES}, [each.line for each in rest]
    assert "of the mounting's other sweeps" in rest[-1].reason


def test_another_mounting_agrees_with_the_last(lab: Lab, bench: Path, tmp_path: Path) -> None:
    for each in sweeps(bench, "m1"):
        bring_in(lab, [copied(tmp_path, each)], SAID | {"duty": each.stem[:-3]})
    path = copied(tmp_path, sweeps(bench, "m2")[0])
    (one,) = checked(lab, path, mounting="b")
    assert one.word is Word.AGREES, one.line
    assert one.reason.endswith("of mounting Bracken-s1-a")
    assert 0.0 < one.away < 0.03


def test_a_wrong_unit_stops_with_its_cause(lab: Lab, bench: Path, tmp_path: Path) -> None:
    for each in sweeps(bench, "m1"):
        if each.stem != "70pct":
            bring_in(lab, [copied(tmp_path, each)], SAID | {"duty": each.stem[:-3]})
    seventy = next(each for each in sweeps(bench, "m2") if each.stem == "70pct")
    (one,) = checked(lab, copied(tmp_path, seventy, "p_s [Pa]", "p_s [mmH2O]"))
    assert one.word is Word.STOP, one.line
    assert "mmH₂O" in one.reason
    assert one.findings


def test_a_run_that_belongs_to_nothing_stops_with_the_reason(lab: Lab, bench: Path, tmp_path: Path) -> None:
    (one,) = checked(lab, copied(tmp_path, sweeps(bench, "m1")[0]), rig="nowhere")
    assert one.word is Word.STOP
    assert "no such rig" in one.reason


def test_one_more_run_is_checked_within_about_a_second(lab: Lab, bench: Path, tmp_path: Path) -> None:
    *most, last = sweeps(bench, "m1")
    for each in most:
        bring_in(lab, [copied(tmp_path, each)], SAID | {"duty": each.stem[:-3]})
    added = bring_in(lab, [copied(tmp_path, last)], SAID | {"duty": last.stem[:-3]})
    began = time.process_time()
    check_in(lab, added.runs, workers=1)
    assert time.process_time() - began < 1.5


def test_the_points_of_the_picture_lie_on_the_curve_of_their_own_mounting(
    lab: Lab, bench: Path, tmp_path: Path
) -> None:
    """The speed rises along a sweep at one duty: points and curve are drawn at one speed."""
    fastest, *_ = [checked(lab, copied(tmp_path, each))[0] for each in sweeps(bench, "m1")]
    book = open_book(lab)
    drawn = newest(lab, book, build_graph(book), fastest.placed)
    flow, pressure = np.array(drawn.curve).T
    for q, p in drawn.points:
        assert np.interp(q, flow, pressure) == pytest.approx(p, abs=0.02 * pressure.max())


def test_a_file_with_nozzles_says_which_rig_must_be_named(lab: Lab, bench: Path, tmp_path: Path) -> None:
    path = copied(tmp_path, sweeps(bench, "m1")[0])
    bring_in(lab, [path], {"fan": "Bracken", "sample": "s1", "duty": "100"})
    ((_, why),) = build_graph(open_book(lab)).unplaced
    assert "none named, but nozzles" in why
    assert "--as rig=NAME" in why
    assert "chamber, duct" in why
