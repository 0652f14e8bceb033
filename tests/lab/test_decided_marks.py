"""Decisions on findings that only mark, of heat and of control: they take effect, and lapse with what was judged."""

from __future__ import annotations

from pathlib import Path

import pytest
from heat_bench import TWO, HeatBench, channels

from stillroom.lab.book import open_book
from stillroom.lab.findings import findings
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.verbs.answers import rank
from stillroom.verbs.working import Action, decide, review

LAPSED = "lapsed"


def found(path: Path) -> list[Finding]:
    with Lab(path) as lab:
        book = open_book(lab)
        graph = build_graph(book)
        reduce_lab(lab, graph, workers=1)
        return findings(lab, book, graph)


def mark(path: Path, rule: int) -> Finding:
    """The one mark of a rule about a measurement."""
    (one,) = [each for each in found(path) if each.rule == rule and "exclude" in each.actions]
    assert not one.blocks
    return one


def decided(path: Path, finding: Finding, action: Action) -> str:
    """What `review --all` says of a decision right after it."""
    decide(finding.id, action, reason="a test", by="K. T.", lab=path)
    return told(path, finding)


def told(path: Path, finding: Finding) -> str:
    lines = review(all=True, lab=path).lines
    (line,) = [each for each in lines if each.startswith("Decided") and finding.id in each]
    return line


def bring(path: Path, files: Path, names: str = "") -> None:
    with Lab(path) as lab:
        bring_in(lab, [files], {"names": names} if names else {})


# --- heat


@pytest.fixture
def heat(tmp_path: Path) -> HeatBench:
    """Two mountings of Sedge, the second in a room of 34 °C and 0.6 K warmer; one of Rush."""
    bench = HeatBench(tmp_path)
    hot = channels(TWO, seed=2)
    for name, more in (("t hot [°C]", 12.6), ("air in [°C]", 12.0)):
        hot[name] = hot[name] + more
    rows = (("Sedge", "h1", "02", channels(TWO, seed=1)), ("Sedge", "h2", "03", hot),
            ("Rush", "h1", "04", channels(TWO, seed=3)))  # fmt: skip
    for fan, which, day, read in rows:
        bench.log(f"{fan}-{which}.csv", read, f"2026-03-{day}T09:00:00", fan=fan, sample="s1",
                  mounting=f"{fan}-{which}")  # fmt: skip
    bench.finish()
    with bench.lab():
        pass
    return bench


def rise(path: Path, fan: str) -> float:
    (value,) = [each["value"] for each in rank("heat", lab=path).data["standings"] if each["fan"] == fan]
    return float(value)


def test_excluding_a_marked_heat_run_moves_the_ranking(heat: HeatBench) -> None:
    path = heat.base / "lab"
    with_it, other = rise(path, "Sedge"), rise(path, "Rush")
    warm_room = mark(path, 35)
    assert warm_room.subject == "mounting:Sedge-h2"
    assert LAPSED not in decided(path, warm_room, Action.EXCLUDE)
    assert with_it - rise(path, "Sedge") == pytest.approx(0.3, abs=0.1)  # half of what it stood apart
    assert rise(path, "Rush") == pytest.approx(other, abs=0.02)
    assert not [each for each in found(path) if each.subject == "mounting:Sedge-h2"]
    assert LAPSED not in decided(path, warm_room, Action.ACCEPT)  # decided anew
    assert rise(path, "Sedge") == pytest.approx(with_it, abs=1e-6)


@pytest.mark.parametrize("action", list(Action))
def test_a_decision_on_a_heat_mark_lapses_only_with_the_run_it_judged(
    heat: HeatBench, action: Action
) -> None:
    path = heat.base / "lab"
    warm_room = mark(path, 35)
    assert LAPSED not in decided(path, warm_room, action)
    heat.log("Rush-h2.csv", channels(TWO, seed=4), "2026-03-05T09:00:00", fan="Rush", sample="s1",
             mounting="Rush-h2")  # fmt: skip
    heat.finish()
    bring(path, heat.base / "bench")
    assert LAPSED not in told(path, warm_room)  # another mounting is nothing to it
    heat.log("more.csv", channels(TWO, seed=5), "2026-03-03T12:00:00", fan="Sedge", sample="s1",
             mounting="Sedge-h2")  # fmt: skip
    heat.finish()
    bring(path, heat.base / "bench")
    assert LAPSED in told(path, warm_room)


# --- control

RESPONSE = (
    "duty [%],speed [rpm],supply voltage [V]\n100,1800,12.3\n60,1150,12.3\n30,600,12.3\n20,400,12.3\n10,0,12.3\n"
    "20,0,12.3\n30,600,12.3\n60,1140,12.3\n100,1800,12.3\n"
)
STARTS = "duty [%],started,rest time [s],cold\n40,5 of 5,30,yes\n30,3 of 5,30,yes\n20,0 of 5,30,yes\n"
OTHERS, OTHER = STARTS.replace("3 of 5", "4 of 5"), RESPONSE.replace("1150", "1170")
NAMES = "{fan}/s{sample}/{any}"


def bench_of(base: Path, files: dict[str, str]) -> Path:
    for name, text in files.items():
        path = base / "bench" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return base / "bench"


@pytest.fixture
def control(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("Control"))
    bring(
        tmp_path / "lab",
        bench_of(tmp_path, {"Rush/s1/steps.csv": RESPONSE, "Rush/s1/starts.csv": STARTS}),
        NAMES,
    )
    return tmp_path / "lab"


@pytest.mark.parametrize("rule", [51, 21])  # of a mounting; of one table
@pytest.mark.parametrize("action", list(Action))
def test_a_decision_on_a_control_mark_lapses_only_with_the_test_it_judged(
    control: Path, action: Action, rule: int
) -> None:
    first = mark(control, rule)
    assert LAPSED not in decided(control, first, action)
    bring(control, bench_of(control.parent, {"Sedge/s1/starts.csv": OTHERS}), NAMES)
    assert LAPSED not in told(control, first)
    bring(control, bench_of(control.parent, {"Rush/s1/again.csv": RESPONSE.replace("1150", "1160")}), NAMES)
    assert (LAPSED in told(control, first)) is (rule == 51)  # another table is nothing to one table


def test_excluding_a_control_mark_takes_the_test_out_of_the_ranking(control: Path) -> None:
    bring(
        control,
        bench_of(control.parent, {"Sedge/s1/steps.csv": OTHER, "Sedge/s1/starts.csv": OTHERS}),
        NAMES,
    )
    assert {each["fan"] for each in rank("start-duty", lab=control).data["standings"]} == {"Rush", "Sedge"}
    first = next(each for each in found(control) if each.rule == 51 and each.fans == ("Rush",))
    decided(control, first, Action.EXCLUDE)
    assert {each["fan"] for each in rank("start-duty", lab=control).data["standings"]} == {"Sedge"}
