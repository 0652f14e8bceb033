"""What airflow predicts of heat beside what was measured, for the charts room: which steps disagree, on which rig."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.heat.series import AgreementChart, AgreementPoint, Settled
from stillroom.core.heat.flow_law import FlowLaw
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.core.heat.law_disagreements import MOUNTING, Against, Disagreement, disagreements
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.curves import result_of
from stillroom.lab.facts.heat_law_facts import collapsing_of
from stillroom.lab.heat.comparable import named_rigs
from stillroom.lab.heat.laws import NEEDED, RigLaw, flow_laws
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import rig_words
from stillroom.lab.pictures.heat import heat_words as words
from stillroom.lab.pictures.heat.alt_texts import agreement_alt
from stillroom.lab.pictures.picture_words import footer, plain_name, short_name
from stillroom.lab.recipes import Graph
from stillroom.methods.heat import versions
from stillroom.methods.heat.law import LawPoint
from stillroom.quality.finding import Finding
from stillroom.store.lab import Lab

PLACES = 60


@dataclass(frozen=True)
class Step:
    """One step of the law with its own record, in kelvins at nominal power; `off` says what it speaks against."""

    point: LawPoint
    step: HeatStep
    nominal: float
    off: Disagreement | None


def agreement_chart(
    lab: Lab, book: Book, graph: Graph, fan: str, rig: str, found: Sequence[Finding] = ()
) -> tuple[AgreementChart, str]:
    """Predicted against measured of the latest era of a heat rig, and the name of its files.

    Parameters
    ----------
    fan : under review. rig : whose; the one with the most steps where none is named.
    found : open findings of fans, which tell whose airflow sweeps contradict each other.

    Raises
    ------
    NotPossible : no law of any rig; with why. UnknownThing : no such rig.
    """
    rig, rig_law = _law(flow_laws(lab, book, graph), rig)
    name = rig_words(rig)
    law = rig_law.law
    assert law is not None
    steps = list(_steps(lab, graph, rig_law, collapsing_of(graph, found), book.settings.limits.heat_law))
    nominal = steps[0].nominal
    points = tuple(_point(each, name, accent=each.point.fan == fan) for each in steps)
    fans = {each.point.fan for each in steps}
    at, half = _band(law, nominal)
    picture = AgreementChart(
        title=_title(steps, name),
        subtitle=f"Temperature rise {words.nominal_words(nominal, name)} through {short_name(book, rig_law.radiator)}: "
        "predicted by each fan’s airflow from all others, against measured; lines and band show 95 %",
        footer=footer(book.settings, f"heat law {versions.LAW}, exponent {law.m:.2f}",
                      f"{wording.plural(len(fans), 'fan')}, {wording.plural(len(steps), 'step')}"),
        x_label="Predicted from airflow",
        y_label="Measured",
        unit="K",
        points=points,
        at=tuple(map(float, at)),
        low=tuple(map(float, at - half)),
        high=tuple(map(float, at + half)),
        band_words=f"within {_percent(law)} for 95 % of fans",
        notes=tuple(_notes(rig_law, points)),
        alt=agreement_alt(
            f"{words.nominal_words(nominal, name)}", len(steps), len(fans), _spread(steps),
            [f"{each.name} ({each.word})" for each in points if each.word],
        ),
    )  # fmt: skip
    return picture, plain_name("agreement", rig)


def _law(laws: Mapping[str, RigLaw], rig: str) -> tuple[str, RigLaw]:
    """The rig's name, and the law of its latest era; of the rig with the most steps where none is named."""
    of_rigs = {found.era.rig for found in laws.values()}
    if rig and rig not in of_rigs:
        raise UnknownThing("heat rig", found=repr(rig), expected=named_rigs(of_rigs) or "none is there")
    here = [each for each in laws.values() if rig in ("", each.era.rig)]
    there = [each for each in here if each.law is not None]
    if not there:
        whys = "; ".join(dict.fromkeys(each.lacks or each.why for each in here if each.why))
        raise NotPossible(
            "agreement of airflow and heat",
            found=whys or "no heat run",
            expected=NEEDED if whys else words.NO_RUNS,
        )
    found = max(there, key=lambda each: (each.era.number if rig else 0, len(each.points)))
    return found.era.rig, found


def _steps(
    lab: Lab, graph: Graph, found: RigLaw, collapsing: Mapping[str, bool], least: float
) -> Iterable[Step]:
    """The points of the law with the steps behind them, and what they speak against; in order of what is predicted."""
    nodes = {each.subject: each for each in graph.heating()}
    heats: dict[str, HeatMounting] = {}
    off: dict[int, Disagreement] = {}
    assert found.law is not None
    for each in disagreements(found.law, collapsing):
        if abs(each.shift) > least:
            off |= dict.fromkeys(each.points, each)
    for number, point in sorted(enumerate(found.points), key=lambda pair: pair[1].predicted):
        if point.mounting not in heats:
            heats[point.mounting] = load_heat(lab.path, result_of(lab, nodes[point.mounting]))
        heat = heats[point.mounting]
        step = next(one for one in heat.steps if one.number == point.step)
        yield Step(point, step, heat.nominal, off.get(number))


def _word(against: Against, rig: str) -> str:
    """Which rig speaks against the other."""
    return {
        Against.HEAT_RUN: f"this run on {rig} is off",
        Against.HEAT_RIG: f"{rig} is off",
        Against.AIRFLOW: "its airflow is off",
        Against.EITHER: f"{rig} or its airflow is off",
    }[against]


def _point(each: Step, rig: str, *, accent: bool) -> AgreementPoint:
    point, nominal = each.point, each.nominal
    predicted, wide = point.predicted * nominal, words.Z95 * point.u_predicted * nominal
    measured = point.measured * nominal
    half = words.Z95 * math.hypot(each.step.u_own, MOUNTING * measured)
    return AgreementPoint(
        label=point.fan,
        predicted=predicted,
        predicted_low=predicted - wide,
        predicted_high=predicted + wide,
        measured=measured,
        low=measured - half,
        high=measured + half,
        word=_word(each.off.against, rig) if each.off else "",
        how=Settled.FORECAST if each.step.how is StepHow.FORECAST else Settled.MEASURED,
        accent=accent,
        setting=words.short_setting(each.step),
    )


def _band(law: FlowLaw, nominal: float) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], ...]:
    """The band about equality in which 95 % of fans lie, by their scatter about the law [K]."""
    values = law.resistances * nominal
    at = np.linspace(0.85 * float(values.min()), 1.1 * float(values.max()), PLACES)
    return at, words.Z95 * law.scatter * at


def _percent(law: FlowLaw) -> str:
    share = words.Z95 * law.scatter * 100.0
    return wording.with_unit(wording.number(share, 0 if share >= 10.0 else 1), "%")


# --- words ------------------------------------------------------------------------------------------------


def _title(steps: Sequence[Step], rig: str) -> str:
    """The finding: whether airflow and heat agree, else what lies off and which rig that speaks against."""
    off = list({each.off.name: each.off for each in steps if each.off}.values())
    if not off:
        return f"Airflow and heat agree in all {wording.plural(len(steps), 'step')}"
    if len(off) == 1:
        one = off[0]
        since = one.name.startswith("from ")
        who = f"all fans {one.name} on" if since else wording.isolate(one.name)
        said = f"{rig} is off" if since else _word(one.against, rig)
        return f"Airflow and heat agree but for {who}: {said}"
    count = sum(each.off is not None for each in steps)
    return f"Airflow and heat disagree in {wording.count(count)} of {wording.plural(len(steps), 'step')}"


def _spread(steps: Sequence[Step]) -> str:
    away = [abs(each.point.measured / each.point.predicted - 1.0) * 100.0 for each in steps]
    return f"half of the steps lie within {wording.bare(float(np.median(away)))} % of what is predicted"


def _notes(found: RigLaw, points: Sequence[AgreementPoint]) -> Iterable[str]:
    if any(each.how is Settled.FORECAST for each in points):
        yield "Open diamonds: runs that were forecast, not waited for."
    if found.left_out:
        yield f"Not drawn, since no airflow is known there: {_left_out(found.left_out)}."


def _left_out(told: Mapping[str, str]) -> str:
    """Mountings without airflow, and how many steps of others ran at speeds without."""
    steps = Counter(name.partition(", step ")[0] for name in told)
    return wording.listed(
        [
            name if name in told else f"{wording.plural(count, 'step')} of {name}"
            for name, count in steps.items()
        ],
        most=5,
    )
