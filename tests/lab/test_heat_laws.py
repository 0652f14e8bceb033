"""The law that ties heat to airflow, over fans whose airflow the chamber knows, against a law that the test chose."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from heat_bench import RIG, HeatBench, Held, channels, graph_of, reduced

from stillroom.core.mounted import MountedFan
from stillroom.demo.truth import Truth
from stillroom.errors import UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.curves import load_fan, load_obstacle, result_of
from stillroom.lab.heat.laws import RigLaw, flow_laws, flow_through
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.pictures.heat.agreement_pictures import agreement_chart
from stillroom.lab.recipes import Graph
from stillroom.lab.tracing import follow
from stillroom.measures import Condition, evaluate, measure_named
from stillroom.records.acts import Event
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

R0, C, M = 0.012, 0.030, 0.55
"""R = R₀ + C (Q/Q₀)^(−M) [K/W], Q₀ = 100 m³/h, as a 240 mm radiator has it."""

OFF = 1.08
"""The heat of one fan is off by this factor: it alone must stand out."""


def resistance(flow: float) -> float:
    """Of the rig at a flow through the whole radiator [m³/s]."""
    return R0 + C * float(flow * 3600.0 / 100.0) ** -M


def airflow(lab: Lab, graph: Graph, fan: MountedFan, speed: float) -> float:
    """By the measure as `rank` takes it, with all its trials: another way than the law's own [m³/s]."""
    node = graph.obstacle("rad27")
    assert node is not None
    load = load_obstacle(lab.path, result_of(lab, node))
    return evaluate(measure_named("airflow"), fan, load, Condition(speed=speed)).value


@pytest.fixture(scope="module")
def tied(sound: tuple[Lab, Truth], tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, str]]:
    """The demo's airflow with heat runs of its fans by the test's law, and the fan that is off."""
    base = tmp_path_factory.mktemp("tied")
    shutil.copytree(sound[0].path, base / "lab")
    bench = HeatBench(base)
    with Lab(base / "lab") as lab:
        graph = graph_of(lab)
        first = {each.fan: each for each in reversed(graph.mountings()) if not each.obstacle}
        fans = {name: load_fan(lab.path, result_of(lab, node)) for name, node in sorted(first.items())}
        off = next(iter(fans))
        for day, (name, fan) in enumerate(fans.items(), start=2):
            low, high = fan.speeds
            settings = []
            for speed, duty in ((high * 0.98, 100.0), (0.5 * (low + high), 60.0)):
                r = resistance(2.0 * airflow(lab, graph, fan, speed)) * (OFF if name == off else 1.0)
                settings.append(Held(duty, speed * 60.0, 1.0 / r, round(8.0 * 5000.0 * r) // 4 * 4))
            bench.log(f"{name}.csv", channels(settings, seed=day), f"2026-11-{day:02d}T09:00:00", fan=name,
                      sample="s1", mounting=f"{name}-h1")  # fmt: skip
        bench.log("moss.csv", channels(settings, seed=99), "2026-11-25T09:00:00", fan="Moss", sample="s1",
                  mounting="Moss-h1")  # fmt: skip
        bench.finish(RIG)
        added = bring_in(lab, [base / "bench"], {})
        assert not added.bad
        reduced(lab)
        yield lab, off


def law_of(lab: Lab) -> RigLaw:
    found = flow_laws(lab, open_book(lab), graph_of(lab))
    assert list(found) == ["heat-1, era 1"]
    return found["heat-1, era 1"]


def test_the_law_comes_back_and_the_fan_that_is_off_stands_out(tied: tuple[Lab, str]) -> None:
    lab, off = tied
    found = law_of(lab)
    assert found.law is not None, found.why
    assert len(found.points) == 2 * len({each.fan for each in found.points}) >= 10
    for each in found.points:
        if each.fan == off:
            assert each.measured / each.predicted == pytest.approx(OFF, abs=0.025)
        else:
            assert each.measured == pytest.approx(resistance(each.flow), rel=0.01)
            assert each.predicted == pytest.approx(resistance(each.flow), rel=0.02)
            assert abs(each.z) < 2.0
    assert min(each.z for each in found.points if each.fan == off) > 2.5
    assert found.left_out == {"Moss-h1": "no airflow of this fan was measured"}


def test_the_picture_of_agreement_names_the_fan_that_is_off(tied: tuple[Lab, str]) -> None:
    lab, off = tied
    picture, name = agreement_chart(lab, open_book(lab), graph_of(lab), "", "heat-1")
    assert name == "agreement-heat-1"
    apart = [each for each in picture.points if each.word]
    assert {each.label for each in apart} == {off}
    assert all(each.measured / each.predicted == pytest.approx(OFF, abs=0.025) for each in apart)
    assert off in picture.title
    assert "heat-1" in picture.title
    assert all(each.low < each.measured < each.high for each in picture.points)
    assert any("Moss-h1" in each for each in picture.notes)
    with pytest.raises(UnknownThing, match="heat-1"):
        agreement_chart(lab, open_book(lab), graph_of(lab), "", "heat-9")


def test_the_quick_way_to_an_airflow_is_the_measure_itself(tied: tuple[Lab, str]) -> None:
    lab, _ = tied
    graph = graph_of(lab)
    node = graph.mountings()[0]
    fan = load_fan(lab.path, result_of(lab, node))
    obstacle = graph.obstacle("rad27")
    assert obstacle is not None
    load = load_obstacle(lab.path, result_of(lab, obstacle))
    speed = 0.7 * fan.speeds[1]
    assert flow_through(fan, load, speed) == pytest.approx(airflow(lab, graph, fan, speed), rel=1e-9)
    beyond = flow_through(fan, load, 1.02 * fan.speeds[1])
    assert beyond == pytest.approx(1.02 * flow_through(fan, load, fan.speeds[1]), rel=1e-9)


def test_the_law_is_kept_and_traced(tied: tuple[Lab, str]) -> None:
    lab, _ = tied
    first, again = law_of(lab), law_of(lab)
    assert first.key == again.key
    assert first.law is not None
    assert again.law is not None
    assert np.array_equal(first.law.z, again.law.z)
    trace = follow(lab, first.key)
    assert trace.title.startswith("heat law of heat-1, era 1: R = ")
    assert (
        sum("heat of " in each for each in trace.lines) == len({each.mounting for each in first.points}) + 1
    )


def test_each_era_has_its_law(tied: tuple[Lab, str]) -> None:
    lab, _ = tied
    whole = law_of(lab)
    event = Event(time="2026-11-05T06:00", text="new pump", rig="heat-1", changes_results=True)
    lab.write([Note(event.kind, event.name, as_json(event))])
    found = flow_laws(lab, open_book(lab), graph_of(lab))
    assert list(found) == ["heat-1, era 1", "heat-1, era 2"]
    assert found["heat-1, era 1"].key != whole.key
    days = [{each.day for each in law.points} for law in found.values()]
    assert max(days[0]) < "2026-11-05" <= min(days[1])


def test_a_rig_without_a_radiator_says_what_is_missing(tmp_path: Path) -> None:
    bench = HeatBench(tmp_path)
    bench.log(
        "sedge.csv", channels([Held(100.0, 1800.0, 36.0)]), "2026-03-02T09:00:00", fan="Sedge", sample="s1"
    )
    bench.finish(RIG.replace('radiator = "rad27"\n', ""))
    with bench.lab() as lab:
        reduced(lab)
        law = law_of(lab)
    assert law.law is None
    assert "no radiator told" in law.why
