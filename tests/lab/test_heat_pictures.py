"""Pictures of heat and of speed control from a lab's results, against a rig in closed form and an invented bench."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from heat_bench import NOMINAL, TWO, HeatBench, Held, channels, reduced

from stillroom.charts.heat.series import Settled
from stillroom.charts.response import DriveSign
from stillroom.core.control.control_mounting import How, Threshold
from stillroom.demo.truth import Truth
from stillroom.demo.write import write_exports
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.heat.asking import heat_of
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.pictures.heat import heat_words
from stillroom.lab.pictures.heat.agreement_pictures import agreement_chart
from stillroom.lab.pictures.heat.settling_pictures import settling_chart
from stillroom.lab.pictures.response_pictures import between, response_chart
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.measures import Condition
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.verbs.heat_words import heat_data, heat_title

CUT = (Held(100.0, 1800.0, 36.0), Held(40.0, 900.0, 22.0, 560))
"""The second setting lasts 2.5 time constants: it can be forecast, and is not steady."""


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Graph]]:
    """One fan that was waited for, and one whose second setting was cut."""
    bench = HeatBench(tmp_path_factory.mktemp("ran"))
    bench.log(
        "sedge.csv", channels(TWO), "2026-03-02T09:00:00", fan="Sedge", sample="s1", mounting="Sedge-h1"
    )
    bench.log("moss.csv", channels(CUT, seed=5), "2026-03-03T09:00:00", fan="Moss", sample="s1",
              mounting="Moss-h1")  # fmt: skip
    bench.finish()
    with bench.lab() as lab:
        yield lab, reduced(lab)


def test_a_run_settles_at_the_truth_and_says_when_it_was_steady(ran: tuple[Lab, Graph]) -> None:
    lab, graph = ran
    picture, name = settling_chart(lab, open_book(lab), graph, "Sedge", "")
    assert name == "settling-sedge-h1"
    assert [each.how for each in picture.steps] == [Settled.MEASURED] * 2
    for step, held in zip(picture.steps, TWO, strict=True):
        assert step.value == pytest.approx(held.rise, abs=0.06)
        assert step.low is not None
        assert step.high is not None
        assert step.low < held.rise < step.high
        # ΔT is within 1 % of its change after 4.6 τ at the latest, τ = C/G (closed form of a first-order system).
        # Proving 0.05 K takes longer: of 60 simulated runs with this noise 95 % were by 7.0 τ, half by 6.0.
        assert step.since is not None
        assert step.first < step.since < step.first + 7.5 * 5000.0 / held.conductance / 60.0
    assert picture.steps[0].setting == "100\u00a0% · 1,800\u00a0rpm" or picture.steps[0].setting.startswith(
        "100"
    )
    assert picture.title.startswith("Sedge settles at 8.3\u00a0K")
    assert heat_words.rise(19.243, 18.99, 19.49) == "19.2\u00a0K"  # mountings differ by 0.12 K: no digit more
    assert f"at {NOMINAL:g}\u00a0W on heat-1" in picture.subtitle
    assert np.all(np.diff(picture.time) > 0.0)
    assert picture.alt.startswith("Temperature rise over the air going in against time, Sedge")


def test_a_run_that_was_cut_has_its_forecast_with_a_larger_interval(ran: tuple[Lab, Graph]) -> None:
    lab, graph = ran
    picture, _ = settling_chart(lab, open_book(lab), graph, "", "")  # the latest run: Moss
    first, cut = picture.steps
    assert picture.label == "Moss"
    assert cut.how is Settled.FORECAST
    assert cut.since is None
    assert cut.value is not None
    assert cut.low is not None
    assert cut.high is not None
    assert cut.low < CUT[1].rise < cut.high
    assert first.low is not None
    assert first.high is not None
    assert cut.high - cut.low > first.high - first.low
    assert cut.forecast is not None
    assert cut.forecast.time[-1] > cut.last + 1.0  # drawn beyond the record
    assert cut.forecast.value[-1] == pytest.approx(CUT[1].rise, abs=0.3)
    assert cut.word.startswith("after 2.")
    assert picture.title.endswith("one of two forecast")
    assert any("not waited for" in each for each in picture.notes)


def test_a_fan_or_a_rig_that_did_not_run_is_named(ran: tuple[Lab, Graph]) -> None:
    lab, graph = ran
    book = open_book(lab)
    with pytest.raises(UnknownThing, match="Moss or Sedge"):
        settling_chart(lab, book, graph, "Heather", "")
    with pytest.raises(UnknownThing, match="heat-1"):
        settling_chart(lab, book, graph, "", "heat-7")
    with pytest.raises(NotPossible, match="no test of speed control"):
        response_chart(lab, book, graph, "", volts=False)


def test_a_run_that_was_excluded_is_counted_and_a_rig_without_a_name_reads_well(tmp_path: Path) -> None:
    bench = HeatBench(tmp_path)
    for number, day in enumerate(("02", "03"), start=1):
        bench.log(f"sedge{number}.csv", channels(TWO, seed=number), f"2026-03-{day}T09:00:00", fan="Sedge",
                  sample="s1", mounting=f"Sedge-h{number}", rig="")  # fmt: skip
    bench.finish("")
    (tmp_path / "bench" / "rig.toml").unlink()
    with bench.lab() as lab:
        graph = reduced(lab)
        book = open_book(lab)
        picture, _ = settling_chart(lab, book, graph, "Sedge", "")
        assert "one of two runs of this fan" in picture.footer
        assert f"at {NOMINAL:g}\u00a0W on the heat rig, against time" in picture.subtitle
        assert "on the heat rig, run of" in picture.alt
        with pytest.raises(NotPossible, match=r"no radiator told; .* airflow of the fans through the rig’s"):
            agreement_chart(lab, book, graph, "", "")
        (told,) = heat_of(Sounds(lab, book, graph), "Sedge", Condition(), {})
        assert heat_title(told) == f"Heat on the heat rig, at {NOMINAL:g} W"
        assert heat_data(told, {})["rig"] == ""
        out = next(each for each in graph.heats if each.mounting == "Sedge-h1")
        subject = f"mounting:{out.subject}"
        decision = Decision(finding=subject, rule="0", subject=subject, key=out.key, action="exclude",
                            reason="a test", by="AB", time="2026-03-09T12:00:00")  # fmt: skip
        lab.write([Note(decision.kind, decision.name, as_json(decision))])
        picture, _ = settling_chart(lab, open_book(lab), reduced(lab), "Sedge", "")
        assert "one of two runs of this fan, the other excluded" in picture.footer


def test_agreement_without_airflow_says_what_is_missing(tmp_path: Path) -> None:
    bench = HeatBench(tmp_path)
    bench.log("sedge.csv", channels(TWO), "2026-03-02T09:00:00", fan="Sedge", sample="s1")
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        with pytest.raises(NotPossible) as found:
            agreement_chart(lab, open_book(lab), graph, "", "")
    assert found.value.found == "no airflow through rad27"
    assert "airflow of the fans through the rig’s radiator, for at least 3 steps" in found.value.expected


# --- speed control ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def controlled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, Graph, Truth]]:
    """The invented bench for control."""
    base = tmp_path_factory.mktemp("controlled")
    truth = write_exports(base / "bench", control=True, truth_path=base / "truth.json")
    _keep_control(base)
    folder.make(base / "lab", template("Control"))
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "bench"], {})
        graph = build_graph(open_book(lab))
        reduce_lab(lab, graph, workers=1)
        yield lab, graph, truth


def _keep_control(base: Path) -> None:
    keep = ("control.toml", "control-runs.csv", "control-mountings.csv", "fans.csv", "samples.csv")
    for each in (base / "bench").iterdir():
        if each.is_file() and each.name not in keep:
            each.unlink()
    for each in (base / "bench" / "exports").iterdir():
        if each.name != "control":
            each.rename(base / each.name)


def test_a_response_stands_where_the_bench_was_and_says_start_and_lowest(
    controlled: tuple[Lab, Graph, Truth],
) -> None:
    lab, graph, _ = controlled
    for node in graph.controlled():
        picture, name = response_chart(lab, open_book(lab), graph, node.fan, volts=False)
        assert name.startswith("response-")
        up = next(each for each in picture.lines if not each.is_back)
        assert list(up.drive) == sorted(up.drive)
        lowest = [each for each in picture.marks if each.sign is DriveSign.LOWEST]
        for mark in lowest:  # it is a step of the way back, with its own speed
            back = next(each for each in picture.lines if each.is_back)
            at = dict(zip(back.drive, back.speed, strict=True))
            assert at[mark.drive] == pytest.approx(mark.speed, rel=1e-4)
            assert all(speed == 0.0 for drive, speed in at.items() if drive < mark.drive)
        spec = picture.specification
        assert spec is not None
        # 4-wire specification 1.3, page 14: speed over full speed equals the duty within ± 10 %.
        full = max(up.speed)
        assert spec.speed[-1] == pytest.approx(full, rel=1e-3)
        assert spec.high[0] - spec.speed[0] == pytest.approx(0.1 * full, rel=2e-3)
        assert spec.drive[0] == pytest.approx(30.0)
        assert picture.title.startswith(f"{node.fan} starts at ")


def test_a_threshold_is_told_as_the_range_that_it_is() -> None:
    def told(low: float | None, high: float | None) -> str:
        return between(Threshold(low, high, How.STEPS), "duty").replace("\u00a0", " ")

    assert told(0.2, 0.22) == "at 20–22 %"
    assert told(None, 0.2) == "at 20 % or less"
    assert told(0.05, None) == "above 5 %"
    assert between(Threshold(3.5, 4.0, How.STEPS), "volts").replace("\u00a0", " ") == "at 3.5–4 V"
