"""A changed record moves the keys of the curves that hang on it, and no others."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from stillroom.demo.write import write_exports
from stillroom.errors import Contradiction
from stillroom.lab import benches
from stillroom.lab.book import by_path, open_book, row_for
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph, build_graph
from stillroom.records.acts import Run
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lab with all of the demo's files, and those files beside it."""
    place = tmp_path_factory.mktemp("whole")
    write_exports(place / "raw", faults=False)
    folder.make(place / "lab", template("Keys"))
    with Lab(place / "lab") as lab:
        bring_in(lab, [place / "raw"], {})
    return place


@pytest.fixture
def place(whole: Path, tmp_path: Path) -> Path:
    shutil.copytree(whole, tmp_path / "copy")
    return tmp_path / "copy"


def graph_of(path: Path) -> Graph:
    with Lab(path) as lab:
        return build_graph(open_book(lab))


def keys(graph: Graph) -> dict[str, str]:
    return {f"{each.kind} {each.subject}": each.key for each in graph.curves}


def moved(place: Path, change: Callable[[str], str], file: str = "rigs.toml") -> set[str]:
    """The curves whose keys move when a file is changed and brought in again."""
    before = keys(graph_of(place / "lab"))
    path = place / "raw" / file
    text = path.read_text(encoding="utf-8")
    changed = change(text)
    assert changed != text, "the change has to do something"
    path.write_text(changed, encoding="utf-8")
    with Lab(place / "lab") as lab:
        bring_in(lab, [path], {})
    after = keys(graph_of(place / "lab"))
    assert set(before) == set(after)
    return {name for name in before if before[name] != after[name]}


def opened(graph: Graph, nozzle: str) -> set[str]:
    return {
        f"{each.kind} {each.subject}"
        for each in graph.curves
        if any(nozzle in (run.placed.taken.nozzles or ()) for run in each.runs)
    }


@pytest.mark.parametrize("nozzle", ["N12", "N40", "N60"])
def test_a_nozzles_bore_moves_what_opened_it(place: Path, nozzle: str) -> None:
    with Lab(place / "lab") as lab:
        bore = f"{open_book(lab).nozzles[nozzle].bore * 1000:.3f}"
    expected = opened(graph_of(place / "lab"), nozzle)
    assert (
        moved(place, lambda text: text.replace(bore, bore[:-1] + "9" if bore[-1] != "9" else "8")) == expected
    )


def test_words_that_no_method_reads_move_nothing(place: Path) -> None:
    assert moved(place, lambda text: text.replace("K-2025-100", "K-2025-100a")) == set()
    assert moved(place, lambda text: text.replace("N-2024-34", "N-2024-34 rev. 2")) == set()
    assert moved(place, lambda text: text.replace("A. M.", "A. Mather"), "mountings.csv") == set()


def test_a_corrected_calibration_moves_what_was_measured_under_it(place: Path) -> None:
    graph = graph_of(place / "lab")
    by_gauge = {
        f"{each.kind} {each.subject}"
        for each in graph.curves
        if any("gauge-nozzle@" in str(run.calibrations.values()) for run in each.runs)
    }
    assert by_gauge
    assert moved(place, lambda text: text.replace("gain = 0.9991", "gain = 0.9992")) == by_gauge


def test_a_later_calibration_moves_nothing_that_came_before_it(place: Path) -> None:
    def later(text: str) -> str:
        head, mark, tail = text.partition("[instrument.gauge-nozzle.calibration]")
        dated = tail.replace("2025-11-17", "2027-01-04", 1).replace("2026-11-17", "2028-01-04", 1)
        return head + mark + dated.replace("gain = 0.9991", "gain = 1.0", 1)

    assert moved(place, later) == set()


def test_the_size_of_a_fan_moves_its_own_curves(place: Path) -> None:
    found = moved(place, lambda text: text.replace("Bracken 120,120", "Bracken 120,119.5"), "fans.csv")
    assert found
    assert all("Bracken" in each for each in found)


def test_another_reader_moves_every_curve(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = keys(graph_of(place / "lab"))
    monkeypatch.setattr(benches, "READER_VERSION", benches.READER_VERSION + 1)
    after = keys(graph_of(place / "lab"))
    assert not set(before.values()) & set(after.values())


def test_errors_of_a_rig_without_instruments_belong_to_that_rig(tmp_path: Path) -> None:
    """Two rigs of the same accuracy line are two sources of error: moving a run to the other moves its key."""
    raw = tmp_path / "raw"
    raw.mkdir()
    line = 'kind = "airflow"\naccuracy = "± 3 % of reading"\n'
    (raw / "rigs.toml").write_text(f"[rig.one]\n{line}\n[rig.two]\n{line}", encoding="utf-8")
    lines = [
        "flow [m³/h],static pressure [Pa],speed [rpm]",
        *(f"{10 * i},{40 - 3 * i},1200" for i in range(12)),
    ]
    (raw / "a.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    folder.make(tmp_path / "lab", template("Rigs"))
    found = []
    for rig in ("one", "two", "one"):
        (raw / "runs.csv").write_text(f"file,rig,fan,sample\na.csv,{rig},Rush,s1\n", encoding="utf-8")
        with Lab(tmp_path / "lab") as lab:
            bring_in(lab, [raw], {})
            found.append(build_graph(open_book(lab)).curves[0].key)
    assert found[0] != found[1]
    assert found[0] == found[2]


def test_benches_are_shared_by_the_runs_that_used_the_same(place: Path) -> None:
    graph = graph_of(place / "lab")
    runs = [run for each in graph.curves for run in each.runs]
    assert len(runs) == 111
    assert len({id(run.bench) for run in runs}) <= 4


def test_the_longest_row_that_fits_a_file_is_its_own() -> None:
    rows = by_path(
        Run(file=name, fan=name) for name in ("a.csv", "m1/a.csv", "s1\\m2\\a.csv", "b.csv", "./x/b.csv")
    )
    for file, expected in (
        ("raw/s1/m1/a.csv", "m1/a.csv"),
        ("raw/s1/m2/a.csv", "s1\\m2\\a.csv"),
        ("raw/s2/m2/a.csv", "a.csv"),
        ("a.csv", "a.csv"),
        ("x/b.csv", "./x/b.csv"),
    ):
        found = row_for(file, rows)
        assert found is not None
        assert found.fan == expected
    assert row_for("raw/other.csv", rows) is None
    assert row_for("raw/za.csv", rows) is None, "a part of a name is no name"
    with pytest.raises(Contradiction, match="two rows"):
        row_for("q/a.csv", by_path([Run(file="q/a.csv"), Run(file="q\\a.csv")]))
