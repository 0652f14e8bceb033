"""Tests of the control from the export to the answer, held against the invented laboratory's truth."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from stillroom.compare.candidates import Bound
from stillroom.compare.standing import Ranking
from stillroom.demo.control.truth import ControlTruth
from stillroom.demo.write import write_exports
from stillroom.errors import NotPossible
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import open_book
from stillroom.lab.control.asking import ControlOfFan, control_of
from stillroom.lab.control.loading import load_control
from stillroom.lab.curves import result_of
from stillroom.lab.field import Asked
from stillroom.lab.findings import findings
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.measures import Condition, measure_named
from stillroom.measures.control import control_value
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

STEP = 0.04
"""Settings of the invented bench lie at most so far apart at the low end [1]."""


def graph_of(lab: Lab) -> Graph:
    return build_graph(open_book(lab))


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, tuple[ControlTruth, ...]]]:
    """All runs of the invented bench for control of the whole round, without anything else."""
    base = tmp_path_factory.mktemp("control")
    truth = write_exports(base / "bench", full=True, control=True, truth_path=base / "truth.json")
    folder.make(base / "lab", template("Control"))
    keep = ("control.toml", "control-runs.csv", "control-mountings.csv", "fans.csv", "samples.csv")
    for each in (base / "bench").iterdir():
        if each.is_file() and each.name not in keep:
            each.unlink()
    for each in (base / "bench" / "exports").iterdir():
        if each.name != "control":
            each.rename(base / each.name)
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "bench"], {})
        reduce_lab(lab, graph_of(lab), workers=1)
        yield lab, truth.control


def ranked(lab: Lab, measure: str) -> Ranking:
    return rank_fans(lab, open_book(lab), graph_of(lab), Asked(measure_named(measure), Condition()))


def test_what_is_found_is_the_truth(bench: tuple[Lab, tuple[ControlTruth, ...]]) -> None:
    lab, truths = bench
    nodes = {each.subject: each for each in graph_of(lab).controlled()}
    assert nodes.keys() == {each.mounting for each in truths}
    slow = {each.mountings for each in findings(lab, open_book(lab), graph_of(lab)) if each.rule == 21}
    wrong = {name.removeprefix("control of ") for several in slow for name in several}
    for truth in truths:
        if truth.mounting in wrong:
            continue
        control = load_control(lab.path, result_of(lab, nodes[truth.mounting]))
        drive = control.drives[truth.by]
        scale = 0.01 if truth.by == "duty" else 1.0
        assert drive.full == pytest.approx(truth.full, rel=0.005)
        lowest = control_value(control, "lowest-speed")
        assert 0.98 * (lowest.low or 0.0) <= truth.lowest <= 1.02 * (lowest.high or 99.0)
        if truth.stops:
            assert drive.stop is not None
            assert (drive.stop.low or 0.0) - 1e-9 <= truth.stop * scale <= (drive.stop.high or 99.0) + 1e-9
            assert drive.start is not None
            failed = truth.started < truth.tried  # then it starts reliably only above where it was tried
            start = scale * (truth.tried_at if failed else truth.start)
            assert (drive.start.low or 0.0) - 1e-9 <= start <= (drive.start.high or 99.0) + 1e-9
        if drive.linearity is not None:
            assert drive.linearity.departure == pytest.approx(truth.departure, abs=0.006)
        if drive.starts:
            assert [(each.attempts, each.started) for each in drive.starts] == [(truth.tried, truth.started)]
        if control.inrush is not None:
            # the invented current takes some milliseconds to rise and falls meanwhile: its peak is never quite reached
            assert 0.9 * truth.peak < control.inrush.peak < 1.02 * truth.peak


def test_the_slow_generator_is_found(bench: tuple[Lab, tuple[ControlTruth, ...]]) -> None:
    lab, _ = bench
    told = [each for each in findings(lab, open_book(lab), graph_of(lab)) if each.rule == 21]
    assert told
    assert all(each.blocks and "kHz" in each.found for each in told)


def test_fans_are_ranked_by_their_starts(bench: tuple[Lab, tuple[ControlTruth, ...]]) -> None:
    lab, truths = bench
    found = ranked(lab, "start-duty")
    tested = {each.fan for each in truths if each.by == "duty"}
    assert {each.fan for each in found.standings} <= tested
    assert len(found.standings) >= len(tested) - 1
    assert {each.bound for each in found.standings} <= {Bound.RANGE, Bound.AT_MOST}
    assert found.conditions["speed"] is None
    for one, other in itertools.pairwise(found.standings):
        assert one.value <= other.value + 1e-12 or Bound.AT_MOST in (one.bound, other.bound)


@pytest.mark.parametrize(
    "measure",
    [
        "lowest-speed",
        "linearity",
        "open-wire-speed",
        "inrush",
        "lowest-duty",
        "stop-duty",
        "start-voltage",
        "stop-voltage",
    ],
)
def test_every_measure_can_be_ranked(bench: tuple[Lab, tuple[ControlTruth, ...]], measure: str) -> None:
    found = ranked(bench[0], measure)
    assert found.standings
    assert all(each.low <= each.value <= each.high for each in found.standings if each.bound is Bound.NONE)


def test_a_condition_is_refused(bench: tuple[Lab, tuple[ControlTruth, ...]]) -> None:
    lab, _ = bench
    asked = Asked(measure_named("start-duty"), Condition(duty=0.4))
    with pytest.raises(NotPossible, match="settings of its own"):
        rank_fans(lab, open_book(lab), graph_of(lab), asked)


def answer(lab: Lab, fan: str) -> ControlOfFan:
    found = control_of(lab, open_book(lab), graph_of(lab), fan, Condition(), {})
    assert found is not None
    return found


def test_an_answer_says_at_which_duty_it_starts_and_how_that_is_known(
    bench: tuple[Lab, tuple[ControlTruth, ...]],
) -> None:
    lab, truths = bench
    truth = next(each for each in truths if each.by == "duty" and each.tried == each.started > 0)
    said = answer(lab, truth.fan).sentences
    assert said[0].startswith("It starts ")
    assert "attempts" in said[0]
    assert any("specification’s ± 10 %" in each for each in said)
    assert any("control wire open" in each for each in said) or not truth.stops


def test_something_else_that_is_asked_leaves_control_out(bench: tuple[Lab, tuple[ControlTruth, ...]]) -> None:
    lab, truths = bench
    book, graph = open_book(lab), graph_of(lab)
    assert control_of(lab, book, graph, truths[0].fan, Condition(speed=20.0), {}) is None
    assert control_of(lab, book, graph, "no such fan", Condition(), {}) is None


# --- by hand, in a lab of its own


def own_lab(tmp_path: Path, files: dict[str, str]) -> Lab:
    folder.make(tmp_path / "lab", template("Own"))
    for name, text in files.items():
        path = tmp_path / "bench" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    lab = Lab(tmp_path / "lab")
    bring_in(lab, [tmp_path / "bench"], {"names": "{fan}/s{sample}/{any}"})
    reduce_lab(lab, graph_of(lab), workers=1)
    return lab


RESPONSE = "duty [%],speed [rpm]\n100,1800\n60,1150\n30,600\n20,400\n10,0\n20,0\n30,600\n60,1140\n100,1800\nopen,1802\n"
STARTS = "duty [%],started,rest time [s],cold\n30,10 of 10,30,yes\n20,3 of 10,30,yes\n"


def test_a_lab_with_two_small_tables(tmp_path: Path) -> None:
    with own_lab(tmp_path, {"Rush/s1/steps.csv": RESPONSE, "Rush/s1/starts.csv": STARTS}) as lab:
        (node,) = graph_of(lab).controlled("Rush")
        assert node.subject.endswith("-control")
        said = answer(lab, "Rush").sentences
        assert said[0] == (
            "It starts between 20 % and 30 % duty: at 30 % duty it started (10 of 10 attempts: at least 74 % start)."
        )
        assert said[1].startswith("It stops between 10 % and 20 % duty as the duty falls")
        assert "With the control wire open it runs at 100 % of full speed." in said


@pytest.mark.parametrize(
    ("starts", "said"),
    [
        (
            "30,9 of 10,30,yes",
            "between 30 % and 60 % duty: 9 of 10 attempts started at 30 %, at 60 % it started in the rising response,"
            " where none was made.",
        ),
        (
            "30,10 of 10,30,yes",
            "between 20 % and 30 % duty: at 30 % duty it started (10 of 10 attempts: at least 74 % start; in the"
            " rising response it stood still at 20 %).",
        ),
    ],
)
def test_attempts_beside_a_response_are_told_where_they_were_made(
    tmp_path: Path, starts: str, said: str
) -> None:
    response = RESPONSE.replace("\n20,0\n30,600\n", "\n20,0\n60,1140\n")
    table = STARTS.splitlines()[0] + f"\n{starts}\n"
    with own_lab(tmp_path, {"Rush/s1/steps.csv": response, "Rush/s1/starts.csv": table}) as lab:
        assert answer(lab, "Rush").sentences[0] == f"It starts {said}"


def test_an_excluded_table_is_left_out_until_it_is_read_anew(tmp_path: Path) -> None:
    with own_lab(tmp_path, {"Rush/s1/steps.csv": RESPONSE, "Rush/s1/starts.csv": STARTS}) as lab:
        (node,) = graph_of(lab).controlled("Rush")
        gone = next(each for each in node.runs if each.placed.taken.file.endswith("starts.csv"))
        decision = Decision(finding="f", rule="51", subject=f"run:{gone.name}", key=gone.key, action="exclude",
                            reason="a test", by="T", time="2026-01-01T00:00:00")  # fmt: skip
        lab.write([Note(Decision.kind, decision.name, as_json(decision))])
        (after,) = graph_of(lab).controlled("Rush")
        assert [each.name for each in after.left_out] == [gone.name]
        assert after.key != node.key
        assert after.judged == node.judged
        reduce_lab(lab, graph_of(lab), workers=1)
        assert answer(lab, "Rush").sentences[0].startswith("It starts between 20 % and 30 % duty")


def test_findings_block_control_and_not_airflow(tmp_path: Path) -> None:
    text = (
        RESPONSE.replace("speed [rpm]\n", "speed [rpm],PWM frequency [kHz]\n")
        .replace("\n", ",2.5\n")
        .replace("kHz],2.5", "kHz]")
    )
    with own_lab(tmp_path, {"Rush/s1/steps.csv": text}) as lab:
        told = findings(lab, open_book(lab), graph_of(lab))
        blocked = open_blocks(told, {})
        assert list(blocked) == [graph_of(lab).controlled("Rush")[0].blocked_as]
        assert "rule 21" in next(iter(blocked.values()))


def test_a_lab_without_tests_of_the_control_has_none(tmp_path: Path) -> None:
    folder.make(tmp_path / "lab", template("Empty"))
    with Lab(tmp_path / "lab") as lab:
        graph = graph_of(lab)
        assert graph.controlled() == []
        assert findings(lab, open_book(lab), graph) == []


def test_a_file_of_a_fan_that_nobody_names_is_said_to_be_unused(tmp_path: Path) -> None:
    folder.make(tmp_path / "lab", template("Own"))
    path = tmp_path / "steps.csv"
    path.write_text(RESPONSE, encoding="utf-8")
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [path], {"fan": "Rush"})
        assert len(graph_of(lab).controlled("Rush")) == 1


def sentences(tmp_path: Path, text: str) -> tuple[str, ...]:
    with own_lab(tmp_path, {"Rush/s1/steps.csv": text}) as lab:
        return answer(lab, "Rush").sentences


HEAD = "duty [%],speed [rpm]\n"


def test_words_for_a_fan_that_keeps_a_minimum_speed(tmp_path: Path) -> None:
    said = sentences(tmp_path, HEAD + "100,1800\n50,920\n20,450\n10,450\n0,450\n50,920\n100,1800\n")
    assert said[0] == "Whether it starts from rest is not known: it keeps a minimum speed and never stood."
    assert (
        said[1]
        == "It does not stop: it keeps a minimum speed and never stood, its lowest speed seen 450 rpm."
    )


def test_words_for_a_fan_that_is_off_at_nought(tmp_path: Path) -> None:
    said = sentences(tmp_path, HEAD + "100,1800\n50,920\n20,450\n10,450\n0,0\n10,450\n50,920\n100,1800\n")
    assert said[0] == (
        "It starts between 0 % and 10 % duty: at 10 % duty it started (from the response, not from start attempts)."
    )
    assert said[1] == (
        "It stops between 0 % and 10 % duty as the duty falls, its lowest speed seen 450 rpm, which it keeps until"
        " then."
    )


def test_words_for_a_fan_that_goes_to_full_speed_at_nought(tmp_path: Path) -> None:
    said = sentences(
        tmp_path, HEAD + "100,1800\n50,920\n20,450\n10,0\n0,1790\n10,0\n20,0\n50,920\n100,1800\n"
    )
    assert said[1].endswith("its lowest speed seen 450 rpm; with no control signal it goes to full speed.")
    assert "between 10 % and 20 % duty" in said[1]


def test_words_for_a_fan_that_never_stopped_in_the_test(tmp_path: Path) -> None:
    said = sentences(tmp_path, HEAD + "100,1800\n50,920\n20,400\n50,920\n100,1800\n")
    assert said[0] == "Whether it starts from rest is not known: no start from rest was tried."
    assert (
        said[1] == "It still turned at 20 % duty, the lowest that was tested, its lowest speed seen 400 rpm."
    )


def test_words_for_rising_settings_alone(tmp_path: Path) -> None:
    said = sentences(tmp_path, HEAD + "0,0\n20,0\n50,920\n70,1270\n100,1800\n")
    assert said[1] == "Where it stops is not known: no falling settings from where it turned."
    assert "within the specification’s ± 10 %" in said[2]
