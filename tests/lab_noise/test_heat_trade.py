"""Heat against noise, in bars, and beside what airflow predicts, from a lab whose rises and levels are closed forms."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from heat_world import EXPONENT, NOMINAL, HeatLab, Run, make_heat_lab, put_heat, rise
from noise_world import line_of, state

from stillroom.charts.heat.series import AgreementChart
from stillroom.core.heat.flow_law import Label, fit_flow_law
from stillroom.errors import NotPossible
from stillroom.lab.eras.eras import Eras
from stillroom.lab.field import Asked
from stillroom.lab.heat.laws import RigLaw
from stillroom.lab.pictures.heat import agreement_pictures
from stillroom.lab.pictures.heat.trade_heat import heat_trade_chart
from stillroom.lab.pictures.multiples import at_limits, panels
from stillroom.lab.pictures.pictures import bars
from stillroom.measures import Condition, measure_named
from stillroom.methods.heat.law import points_of

HEAT = measure_named("heat")


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[HeatLab]:
    made = make_heat_lab(tmp_path_factory.mktemp("traded"))
    with made.lab:
        yield made


def test_the_line_is_the_closed_form_at_its_level_and_meets_the_ranking(warm: HeatLab) -> None:
    limits = (26.0, 28.0)
    found = [(each, warm.ranked(noise=each)) for each in limits]
    book, _ = state(warm.lab)
    asked = Asked(HEAT, Condition(), only=("Alder", "Birch", "Dogwood"))
    picture, name = heat_trade_chart(warm.lab, book, warm.graph, asked, found, "Birch")
    assert name == "tradeoff-heat-heat-1-birch-alder-dogwood"
    assert picture.cue.endswith("lower is cooler")
    assert picture.alt.startswith("Temperature rise through rad against level at 0.5\u00a0m, three fans.")
    lines = {each.label: each for each in picture.lines}
    assert lines["Birch"].accent
    alder = lines["Alder"]
    speeds = np.array(alder.speed)
    truth = np.array([(rise(12.0, x) + rise(12.1, x)) / 2 for x in speeds])
    assert np.array(alder.value) == pytest.approx(truth, rel=6e-3)
    assert np.array(alder.level) == pytest.approx(30.0 + 53.0 * np.log10(speeds / 1500.0), abs=0.3)
    assert all(
        low < value < high for low, value, high in zip(alder.low, alder.value, alder.high, strict=True)
    )
    assert [each.limit for each in alder.ticks] == ["26\u00a0dBA", "28\u00a0dBA"]
    for tick, (_, ranking) in zip(alder.ticks, found, strict=True):
        standing = line_of(ranking, "Alder")
        assert (tick.value, tick.low, tick.high) == (standing.value, standing.low, standing.high)
        assert np.interp(tick.level, alder.level, alder.value) == pytest.approx(tick.value, rel=0.02)


def test_fans_without_sound_or_heat_are_said_and_not_drawn(warm: HeatLab) -> None:
    found = [(28.0, warm.ranked(noise=28.0))]
    book, _ = state(warm.lab)
    asked = Asked(HEAT, Condition(), only=("Alder", "Hazel"))
    picture, _ = heat_trade_chart(warm.lab, book, warm.graph, asked, found, "")
    assert [each.label for each in picture.lines] == ["Alder"]
    assert any(each.startswith("Not drawn: Hazel (") for each in picture.notes)
    with pytest.raises(NotPossible, match="temperature rise against noise"):
        heat_trade_chart(warm.lab, book, warm.graph, Asked(HEAT, Condition(), only=("Hazel",)), found, "")


def test_bars_of_heat_start_at_zero_and_say_what_they_rest_on(warm: HeatLab) -> None:
    found = warm.ranked(noise=28.0)
    picture, _ = bars(warm.lab.settings, found, HEAT, "Birch", 10)
    assert picture.starts_at is None
    assert picture.cue == "← shorter is cooler"
    assert [each.label for each in picture.bars if not each.is_missing] == [
        each.fan for each in found.standings
    ]
    values = [each.value for each in picture.bars if not each.is_missing]
    assert values == sorted(values)
    assert next(each for each in picture.bars if each.is_missing).label == "Elm"  # can't run so quiet
    assert "forecast" in next(each.note for each in picture.bars if each.label == "Dogwood")
    assert picture.title.startswith("At 28 dBA at 0.5 m")
    assert "rad" not in picture.title
    assert "300 W on heat-1" in picture.subtitle
    assert "heat method" not in picture.footer
    for method in (found.conditions["heat method"], found.conditions["sound method"]):
        assert str(method) in picture.footer


def test_panels_of_heat_share_one_axis_and_the_cue(warm: HeatLab) -> None:
    found = [warm.ranked(noise=each) for each in (26.0, 28.0)]
    book, _ = state(warm.lab)
    picture, _ = panels(book, found, HEAT, across=at_limits(book, found))
    assert picture.cue == "← shorter is cooler"
    assert len(picture.panels) == 2
    orders = {tuple(bar.label for bar in each.bars) for each in picture.panels}
    assert len(orders) == 1


# --- predicted from airflow against measured -------------------------------------------------------


FANS = tuple(f"Fan {letter}" for letter in "ABCDEFGHIJKL")


def tied(lab: HeatLab, off: dict[str, float]) -> tuple[HeatLab, RigLaw]:
    """Three mountings each of twelve fans that hold R = c Q^(−0.45) exactly, but those that are off by a factor."""
    moved = {
        name: 0.8 + 0.05 * place for place, name in enumerate(FANS)
    }  # flow at 1500 rpm, in a unit of its own
    runs = [
        Run(name, 12.0 * moved[name] ** EXPONENT * off.get(f"{name}-{mounting}", 1.0), mounting=mounting)
        for name in FANS
        for mounting in ("h1", "h2", "h3")
    ]
    nodes = put_heat(lab.lab, runs)
    rows = [(moved[run.fan] * speed / 1500.0, rise(run.at_1500, speed) / NOMINAL, Label(
                run.fan, run.subject, f"{run.fan}-m1", run.date, number))
            for run in runs for number, speed in enumerate(run.speeds, start=1)]  # fmt: skip
    flows, resistances = (np.array([row[k] for row in rows]) for k in (0, 1))
    law = fit_flow_law(
        flows, 0.008 * flows, resistances, np.full(len(rows), 0.02 / NOMINAL), [row[2] for row in rows]
    )
    warm = HeatLab(lab.lab, nodes)
    book, _ = state(lab.lab)
    era = Eras(book).of(nodes[0])
    return warm, RigLaw(
        era, "rad", "made", law, points_of(law), {"Fan Z-h1": "no airflow of this fan was measured"}
    )


def drawn_of(warm: HeatLab, law: RigLaw, monkeypatch: pytest.MonkeyPatch, fan: str = "") -> AgreementChart:
    book, _ = state(warm.lab)
    monkeypatch.setattr(agreement_pictures, "flow_laws", lambda *_: {"heat-1, era 1": law})
    return agreement_pictures.agreement_chart(warm.lab, book, warm.graph, fan, "heat-1")[0]


def test_all_steps_agree_where_the_law_holds(warm: HeatLab, monkeypatch: pytest.MonkeyPatch) -> None:
    made, law = tied(warm, {})
    picture = drawn_of(made, law, monkeypatch, "Fan C")
    assert picture.title == "Airflow and heat agree in all 144 steps"
    assert not any(each.word for each in picture.points)
    assert {each.label for each in picture.points if each.accent} == {"Fan C"}
    for each in picture.points:
        assert each.measured == pytest.approx(each.predicted, rel=0.02)
        assert each.predicted_low < each.predicted < each.predicted_high
    assert picture.notes[-1] == "Not drawn, since no airflow is known there: Fan Z-h1."


@pytest.mark.parametrize(
    ("off", "said"),
    [
        ({"Fan E-h2": 1.1}, "but for Fan E-h2: this run on heat-1 is off"),
        ({"Fan E-h1": 1.1, "Fan E-h2": 1.1, "Fan E-h3": 1.1}, "but for Fan E: heat-1 or its airflow is off"),
    ],
)
def test_the_run_that_disagrees_is_named_with_what_it_speaks_against(
    warm: HeatLab, monkeypatch: pytest.MonkeyPatch, off: dict[str, float], said: str
) -> None:
    made, law = tied(warm, off)
    picture = drawn_of(made, law, monkeypatch)
    assert picture.title == f"Airflow and heat agree {said}"
    apart = [each for each in picture.points if each.word]
    assert {each.label for each in apart} == {"Fan E"}
    assert len(apart) == 4 * len(off)
    for each in apart:
        assert each.measured / each.predicted == pytest.approx(1.1, abs=0.03)
        assert said.endswith(each.word)
