"""Asking through anything: versions of obstacles, stacks, stated resistances, systems, settings, all crossings."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from stillroom import verbs
from stillroom.core.systems import StatedResistance, System
from stillroom.demo.truth import Truth
from stillroom.errors import BadInput, NotPossible, UnknownThing
from stillroom.lab.airflow.answering import AT_POINT
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.asking import answer
from stillroom.lab.book import Book, open_book
from stillroom.lab.field import Asked
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.through import stated_resistance, through_of
from stillroom.measures import Condition, measure_named
from stillroom.records.acts import Spread
from stillroom.records.settings import template
from stillroom.store import folder, results
from stillroom.store.lab import Lab
from stillroom.verbs import Conditions

D, HOUR = 0.12, 3600.0
RAD_1, RAD_2, GRILLE = (0.085, 1.15e-3), (0.06, 0.9e-3), (0.0, 1.2e-4)
"""(a [Pa/(m³/h)], b [Pa/(m³/h)²]) of the made obstacles."""


def pq(speed: float, flow: np.ndarray) -> np.ndarray:
    """Pressure [Pa] of the made fan at a speed [rpm] and flows [m³/h]."""
    return 8e-6 * speed**2 * (1 - (flow / (0.06 * speed)) ** 2)


def speed_at(duty: float, share: np.ndarray) -> np.ndarray:
    return 2000 * (0.2 + 0.8 * duty) * (1 - 0.04 * share)


def fan_sweep(duty: float, factor: float = 1.0, through: tuple[float, float] | None = None) -> str:
    """A sweep of flow, pressure and speed; the pressure behind an obstacle where one is mounted."""
    share = np.linspace(0.0, 1.0, 13)
    if through is not None:
        share = share * crossing(*through, duty) / (0.06 * float(speed_at(duty, np.array(0.6))))
    speed = speed_at(duty, share)
    flow = share * 0.06 * speed * factor
    pressure = pq(speed, flow / factor)
    if through is not None:
        pressure = pressure - through[0] * flow - through[1] * flow**2
    rows = [f"{q:.4f},{p:.4f},{n:.2f}" for q, p, n in zip(flow, pressure, speed, strict=True)]
    return "\n".join(["Airflow [m³/h],Static pressure [Pa],Speed [rpm]", *rows]) + "\n"


def obstacle_run(a: float, b: float) -> str:
    flow = np.linspace(9.0, 90.0, 11)
    return (
        "\n".join(["Airflow [m³/h],Pressure drop [Pa]", *(f"{q:.3f},{a * q + b * q * q:.4f}" for q in flow)])
        + "\n"
    )


RUNS = """file,rig,mounting,fan,sample,obstacle,duty [%]
rad-a.csv,,,,,rad@1,
rad-b.csv,,,,,rad@2,
grille.csv,,,,,grille,
a-50.csv,,a-1,Alder,s1,,50
a-75.csv,,a-1,Alder,s1,,75
a-100.csv,,a-1,Alder,s1,,100
b-50.csv,,b-1,Birch,s1,,50
b-75.csv,,b-1,Birch,s1,,75
b-100.csv,,b-1,Birch,s1,,100
"""


def make_bench(where: Path) -> None:
    where.mkdir()
    files = {
        "fans.csv": "fan,maker,size [mm]\nAlder,Invented,120\nBirch,Invented,120\n",
        "obstacles.csv": "obstacle,version,date,kind,side,tile size [mm],description\n"
        "rad,1,2026-01-10,radiator,push,120,a radiator\nrad,2,2026-03-01,radiator,push,120,a radiator\n"
        "grille,,,grille,,140,a grille\n",
        "mountings.csv": "mounting,fan,sample,date\na-1,Alder,s1,2026-03-05\nb-1,Birch,s1,2026-03-05\n",
        "runs.csv": RUNS,
        "rad-a.csv": obstacle_run(*RAD_1),
        "rad-b.csv": obstacle_run(*RAD_2),
        "grille.csv": obstacle_run(*GRILLE),
    }
    for name, factor in (("a", 1.0), ("b", 1.08)):
        files |= {f"{name}-{each}.csv": fan_sweep(each / 100, factor) for each in (50, 75, 100)}
    for name, text in files.items():
        (where / name).write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    base = tmp_path_factory.mktemp("asking")
    make_bench(base / "bench")
    folder.make(base / "lab", template("Made"))
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "bench"], {"accuracy": "± 1 % of reading"})
        reduce_lab(lab, build_graph(open_book(lab)), workers=1)
        yield lab


def state(lab: Lab) -> tuple[Book, Graph]:
    book = open_book(lab)
    return book, build_graph(book)


def crossing(a: float, b: float, duty: float = 1.0) -> float:
    """Flow [m³/h] of the made fan on aQ + bQ², by bisection on the share of its free flow."""
    low, high = 0.0, 1.0
    for _ in range(80):
        share = np.array((low + high) / 2)
        speed = speed_at(duty, share)
        flow = share * 0.06 * speed
        low, high = (float(share), high) if pq(speed, flow) > a * flow + b * flow**2 else (low, float(share))
    return float(flow)


def airflow(lab: Lab, through: str, **told: object) -> float:
    """Alder's airflow [m³/h]."""
    book, graph = state(lab)
    asked = Asked(measure_named("airflow"), Condition(obstacle=through, **told), only=("Alder",))  # type: ignore[arg-type]
    (standing,) = rank_fans(lab, book, graph, asked, workers=1).standings
    return standing.value * HOUR


def test_a_version_is_named_the_bare_name_is_the_latest(made: Lab) -> None:
    assert airflow(made, "rad@1") == pytest.approx(crossing(*RAD_1), rel=0.01)
    assert airflow(made, "rad@2") == pytest.approx(crossing(*RAD_2), rel=0.01)
    assert airflow(made, "rad") == airflow(made, "rad@2")
    book, graph = state(made)
    found = rank_fans(
        made, book, graph, Asked(measure_named("airflow"), Condition(obstacle="rad")), workers=1
    )
    assert found.conditions["obstacle version"] == "2"
    assert found.conditions["obstacle side"] == "push"
    assert {each.subject for each in graph.curves if each.kind == "obstacle"} == {"rad@1", "rad@2", "grille"}


def test_a_version_nobody_measured_is_refused(made: Lab) -> None:
    with pytest.raises(UnknownThing, match="grille, rad"):
        airflow(made, "rad@3")


@pytest.mark.parametrize(
    ("through", "a", "b"),
    [
        ("rad@1+grille", RAD_1[0] + GRILLE[0], RAD_1[1] + GRILLE[1]),
        ("0.085 Q + 0.00115 Q²", 0.085, 1.15e-3),
        ("0,085 Q+0,00115 Q^2", 0.085, 1.15e-3),
        ("20 Pa at 60 m³/h", 0.0, 20 / 60**2),
        ("2.03943 mmH2O at 35.3147 CFM", 0.0, 20 / 60**2),
        ("grille + 20 Pa at 60", 0.0, 20 / 60**2 + GRILLE[1]),
        ("1.2e-4 Q²", 0.0, 1.2e-4),
    ],
)
def test_stacks_and_stated_resistances(made: Lab, through: str, a: float, b: float) -> None:
    assert airflow(made, through) == pytest.approx(crossing(a, b), rel=0.01)


def test_side_by_side(made: Lab) -> None:
    pair = airflow(made, "rad@1 beside rad@1")
    assert pair == pytest.approx(crossing(RAD_1[0] / 2, RAD_1[1] / 4), rel=0.01)


@pytest.mark.parametrize("through", ["+", "rad+", "20 Pa at 0 m³/h", "20 V at 60 m³/h", "0 Q"])
def test_what_can_not_be_read_is_refused(made: Lab, through: str) -> None:
    with pytest.raises((BadInput, UnknownThing), match="expected"):
        airflow(made, through)


def test_words_that_are_no_resistance_are_names() -> None:
    assert stated_resistance("rad27") is None
    assert stated_resistance("Q20") is None
    assert stated_resistance("3 Q") == StatedResistance("3 Q", 3 * HOUR, 0.0)


@pytest.mark.parametrize("duty", [0.5, 0.6, 0.75, 0.9])
def test_at_a_duty_the_speed_is_the_one_measured_at_the_operating_point(made: Lab, duty: float) -> None:
    assert airflow(made, "rad", duty=duty) == pytest.approx(crossing(*RAD_2, duty=duty), rel=0.012)


def test_conditions_say_what_was_asked(made: Lab) -> None:
    book, graph = state(made)
    system = System(beside=2, tiles=3.0, push_pull=0.85, altitude=1600.0, temperature=298.15)
    asked = Asked(measure_named("airflow"), Condition(obstacle="rad+grille", duty=0.6, system=system))
    found = rank_fans(made, book, graph, asked, workers=1)
    told = found.conditions
    assert told["speed"] == "60 % duty"
    assert told["through"] == "rad@2 + grille"
    assert (told["fans side by side"], told["tiles"], told["push–pull factor"]) == (2, 3.0, 0.85)
    assert (told["altitude"], told["air temperature"]) == ("1600 m", "25.0 °C")
    assert told["density"] == f"{system.air.density:.3g} kg/m³"
    assert told["density"] in found.definition
    for standing in found.standings:
        assert standing.how.value == "modelled"
        assert "interpolated between 50 % and 75 %" in standing.marks
        assert "push–pull factor 0.85 stated" in standing.marks
        assert "modelled for obstacles behind each other" in standing.marks
    json.dumps(found.as_dict())


def test_a_piece_of_another_size_than_the_fan_is_marked(made: Lab) -> None:
    book, graph = state(made)
    marks = {}
    for through in ("rad", "grille"):
        asked = Asked(measure_named("airflow"), Condition(obstacle=through), only=("Alder",))
        marks[through] = rank_fans(made, book, graph, asked, workers=1).standings[0].marks
    assert "grille measured on a piece of 140 mm" in marks["grille"]
    assert not any("measured on a piece" in each for each in marks["rad"])


def test_how_a_number_was_had(made: Lab) -> None:
    book, graph = state(made)

    def how(measure: str, **told: object) -> str:
        asked = Asked(measure_named(measure), Condition(**told), only=("Alder",))  # type: ignore[arg-type]
        return rank_fans(made, book, graph, asked, workers=1).standings[0].how.value

    assert how("free-airflow") == "measured"
    assert how("free-airflow", duty=0.75) == "measured"
    assert how("free-airflow", duty=0.8) == "interpolated"
    assert how("free-airflow", speed=25.0) == "interpolated"
    assert how("load-line") == "interpolated"
    assert how("airflow", obstacle="rad") == "interpolated"
    assert how("airflow", obstacle="20 Pa at 60") == "interpolated"
    assert how("airflow", obstacle="rad+grille") == "modelled"
    assert how("airflow", obstacle="rad", system=System(beside=2)) == "modelled"
    assert how("airflow", obstacle="grille", speed=32.0) == "modelled"  # beyond the obstacle's readings


def test_what_does_not_fit_is_refused(made: Lab) -> None:
    book, graph = state(made)
    for measure, condition, word in (
        ("free-airflow", Condition(system=System(tiles=2.0)), "--tiles"),
        ("speed-at", Condition(obstacle="rad", speed=20.0), "a given speed"),
    ):
        with pytest.raises(NotPossible, match=word):
            rank_fans(made, book, graph, Asked(measure_named(measure), condition), workers=1)
    outside = Asked(measure_named("airflow"), Condition(obstacle="rad", duty=0.3))
    for gone in rank_fans(made, book, graph, outside, workers=1).excluded:
        assert "tested from 50 % to 100 %" in gone.why


def test_an_answer_is_what_the_ranking_says(made: Lab) -> None:
    book, graph = state(made)
    condition = Condition(obstacle="rad")
    ranked = {
        each: rank_fans(made, book, graph, Asked(measure_named(each), condition), workers=1).standings
        for each in ("airflow", "pressure-at", "speed-at", "pressure-to-spare")
    }
    book, graph = state(made)
    found = answer(made, book, graph, "Alder", condition)
    for number in found.numbers:
        if number.measure.name in ranked:
            standing = next(each for each in ranked[number.measure.name] if each.fan == "Alder")
            assert (number.value, number.key, number.how) == (standing.value, standing.key, standing.how)
            assert (number.low, number.high) == pytest.approx((standing.low, standing.high))
            assert results.get(made.database, number.key) is not None
        else:
            assert number.how.value == "unknown"
            assert "neither power nor both volts and amps" in number.why
    assert found.points == ()


def test_an_answer_agrees_no_spread(made: Lab) -> None:
    book, graph = state(made)
    before = made.current(Spread)
    answer(made, book, graph, "Alder", Condition(speed=25.0))
    assert made.current(Spread) == before


def test_the_numbers_hang_together(made: Lab) -> None:
    book, graph = state(made)
    told = {
        each.measure.name: each
        for each in answer(made, book, graph, "Birch", Condition(obstacle="rad@1")).numbers
    }
    flow, pressure = (told[name].value or 0.0 for name in ("airflow", "pressure-at"))
    q = flow * HOUR
    assert pressure == pytest.approx(RAD_1[0] * q + RAD_1[1] * q * q, rel=0.01)
    assert (told["pressure-to-spare"].value or 0.0) == pytest.approx(8e-6 * 2000**2 - pressure, rel=0.03)


def test_the_verb_answers_in_words_and_as_data(made: Lab) -> None:
    said = verbs.ask(
        "Alder", through="rad", conditions=Conditions(duty="60", altitude="1600 m"), lab=made.path
    )
    assert "through rad at 60 % duty" in said.title
    text = json.dumps(said.data, ensure_ascii=False)
    for word in ("stillroom/answer/1", "modelled for ρ = ", "interpolated between 50 % and 75 %", "unknown"):
        assert word in text
    (_, table), *_ = said.tables
    assert table.rows[0][0] == "Airflow"
    assert {row[4] for row in table.rows} == {"modelled"}
    (unknown,) = (line for line in said.lines if line.startswith("Unknown: "))
    assert unknown.count("neither power nor both volts and amps") == 1
    free = verbs.ask("Alder", lab=made.path)
    assert free.data["numbers"][0]["measure"] == "free-airflow"
    with pytest.raises(UnknownThing, match="Alder, Birch"):
        verbs.ask("Cedar", lab=made.path)


def test_the_verb_of_rankings_takes_the_same_options(made: Lab) -> None:
    said = verbs.rank(
        "airflow", through="rad", conditions=Conditions(duty="75 %", beside=3, tiles=3), lab=made.path
    )
    conditions = said.data["conditions"]
    assert conditions["fans side by side"] == 3
    three = said.data["standings"][0]["value"]
    alone = verbs.rank("airflow", through="rad", conditions=Conditions(duty="75 %"), lab=made.path)
    one = alone.data["standings"][0]["value"]
    assert three == pytest.approx(3 * one)


@pytest.mark.parametrize(("option", "text"), [
    ("push_pull", "much"), ("push_pull", "3"), ("altitude", "high"), ("altitude", "99 km"), ("air", "20 V"),
    ("duty", "12 V"), ("volts", "40 %"), ("beside", "0"),
])  # fmt: skip
def test_an_option_that_says_nothing_is_refused(option: str, text: str) -> None:
    with pytest.raises(BadInput, match="expected"):
        Conditions(**{option: int(text) if option == "beside" else text}).through()  # type: ignore[arg-type]


def test_options_in_other_units() -> None:
    told = Conditions(duty="40 %", push_pull="0,85 ± 0.05", altitude="5249 ft", air="86 °F").through("rad")
    assert told.duty == pytest.approx(0.4)
    assert told.system.push_pull == 0.85
    assert told.system.push_pull_u == pytest.approx(0.05 / math.sqrt(3))
    assert told.system.altitude == pytest.approx(1600, abs=0.5)
    assert told.system.temperature == pytest.approx(303.15)


def test_a_fan_in_stall_shows_every_point(sound: tuple[Lab, Truth]) -> None:
    """Against the invented laboratory's own truth: three points through the dense obstacle."""
    lab, truth = sound
    fan = truth.stalling[0]
    book, graph = state(lab)
    found = answer(lab, book, graph, fan, Condition(speed=25.0, obstacle="dense"))
    true = sorted(
        (each.flow for each in truth.operating_point(fan, "dense", "1500 rpm").points), reverse=True
    )
    assert [each.stable for each in found.points] == [True, False, True]
    for point, flow in zip(found.points, true, strict=True):
        value, low, high = point.values["flow"]
        assert value == pytest.approx(flow, rel=0.06)
        assert low < value < high
    assert set(AT_POINT) - set(found.points[0].values) == {"speed"}
    said = verbs.ask(fan, through="dense", conditions=Conditions(speed="1500"), lab=lab.path)
    assert "one value would be a lie" in said.title
    assert [name for name, _ in said.tables][1].startswith("Operating points")


def nodes_of(graph: Graph, fan: str) -> list[CurveNode]:
    return [each for each in graph.mountings() if each.fan == fan]


def test_fans_measured_with_a_version_mounted_are_not_mixed_with_another(tmp_path: Path) -> None:
    """A bare name means the version in force on the run's day."""
    make_bench(tmp_path / "bench")
    rows, mountings = [], []
    for at, (date, law) in enumerate((("2026-02-01", RAD_1), ("2026-03-20", RAD_2)), start=1):
        for duty in (50, 75, 100):
            name = f"m{at}-{duty}.csv"
            (tmp_path / "bench" / name).write_text(fan_sweep(duty / 100, 1.0, law), encoding="utf-8")
            rows.append(f"{name},,m{at},Alder,s1,rad,{duty}")
        mountings.append(f"m{at},Alder,s1,{date}")
    without = [row for row in RUNS.splitlines() if not row.startswith("rad-")]
    (tmp_path / "bench" / "runs.csv").write_text("\n".join([*without, *rows]) + "\n", encoding="utf-8")
    for name in ("rad-a.csv", "rad-b.csv"):
        (tmp_path / "bench" / name).unlink()
    table = tmp_path / "bench" / "mountings.csv"
    table.write_text(table.read_text(encoding="utf-8") + "\n".join(mountings) + "\n", encoding="utf-8")
    folder.make(tmp_path / "lab", template("Made"))
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [tmp_path / "bench"], {"accuracy": "± 1 % of reading"})
        book, graph = state(lab)
        assert {each.subject: each.obstacle for each in nodes_of(graph, "Alder")} == {
            "a-1": "", "m1": "rad@1", "m2": "rad@2",
        }  # fmt: skip
        through = through_of(book, graph, "rad")
        assert (through.mounted, through.stacks) == ("rad@2", ())
        reduce_lab(lab, graph, workers=1)
        found = rank_fans(
            lab, book, graph, Asked(measure_named("airflow"), Condition(obstacle="rad@1")), workers=1
        )
        assert found.conditions["way"] == "measured with the obstacle mounted"
        (standing,) = found.standings
        assert standing.value * HOUR == pytest.approx(crossing(*RAD_1), rel=0.01)
        assert standing.mountings == 1
        assert [each.fan for each in found.excluded] == ["Birch"]
        asked = Asked(measure_named("airflow"), Condition(obstacle="rad", system=System(push_pull=0.9)))
        with pytest.raises(NotPossible, match="rad@2 mounted"):
            rank_fans(lab, book, graph, asked, workers=1)


def test_a_mounting_that_could_not_be_used_is_named_with_the_reason(tmp_path: Path) -> None:
    make_bench(tmp_path / "bench")
    more = "a-2.csv,,a-2,Alder,s2,,50\n"
    (tmp_path / "bench" / "runs.csv").write_text(RUNS.replace("b-50", more + "b-50", 1), encoding="utf-8")
    (tmp_path / "bench" / "a-2.csv").write_text(fan_sweep(0.5), encoding="utf-8")
    (tmp_path / "bench" / "mountings.csv").write_text(
        "mounting,fan,sample,date\na-1,Alder,s1,2026-03-05\na-2,Alder,s2,2026-03-05\nb-1,Birch,s1,2026-03-05\n",
        encoding="utf-8",
    )
    folder.make(tmp_path / "lab", template("Made"))
    with Lab(tmp_path / "lab") as lab:
        bring_in(lab, [tmp_path / "bench"], {"accuracy": "± 1 % of reading"})
        reduce_lab(lab, build_graph(open_book(lab)), workers=1)
    said = verbs.ask("Alder", lab=tmp_path / "lab")
    (line,) = [each for each in said.lines if each.startswith("Not used: a-2 for ")]
    told = next(each for each in said.data["numbers"] if each["measure"] == "free-airflow")  # type: ignore[attr-defined]
    assert "a mounting could not be used" in told["marks"] + [said.lines[1]]
    (left,) = told["left_out"]
    assert left["mounting"] == "a-2"
    assert line.partition(": ")[2].partition(": ")[2] == left["why"].replace("; expected ", ". Needed: ")


def test_the_title_tells_the_system(made: Lab) -> None:
    told = Conditions(push_pull="0.85 ± 0.05", altitude="1600 m", air="30 °C")
    title = verbs.ask("Alder", through="rad@2", conditions=told, lab=made.path).title
    assert title.startswith("Two Alder in push–pull (factor 0.85) move ")
    assert title.endswith("through rad version\u00a02 at full speed, at 1600 m and 30 °C.")
    told = Conditions(beside=3, tiles=3.0)
    title = verbs.rank(through="rad@2", conditions=told, lab=made.path).title
    assert title.startswith(
        "Through three tiles of rad version\u00a02 at full speed, three of each side by side, "
    )
    assert title.endswith("the two fans can’t be told apart.")
    title = verbs.rank("maximum-pressure", lab=made.path).title
    assert title == "At full speed the two fans can’t be told apart by maximum pressure."
