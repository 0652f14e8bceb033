"""What airflow predicts of heat beside what was measured, for the charts room: which steps disagree, on which rig."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.heat.series import AgreementChart, AgreementPoint, Settled
from stillroom.core.heat.flow_law import FlowLaw
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.curves import result_of
from stillroom.lab.heat.laws import RigLaw, flow_laws
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.pictures.heat import heat_words as words
from stillroom.lab.pictures.heat.alt_texts import agreement_alt
from stillroom.lab.pictures.picture_words import footer, plain_name, short_name
from stillroom.lab.recipes import Graph
from stillroom.methods.heat.law import LawPoint
from stillroom.store.lab import Lab

APART = 2.6
"""From this |z| on a step disagrees [1]: one in a hundred by chance."""

PLACES = 60


@dataclass(frozen=True)
class Step:
    """One step of the law with its own record, in kelvins at nominal power."""

    point: LawPoint
    step: HeatStep
    nominal: float

    @property
    def is_apart(self) -> bool:
        """Whether it disagrees with what airflow predicts."""
        return abs(self.point.z) > APART


def agreement_chart(lab: Lab, book: Book, graph: Graph, fan: str, rig: str) -> tuple[AgreementChart, str]:
    """Predicted against measured of the latest era of a heat rig, and the name of its files.

    Parameters
    ----------
    fan : under review. rig : whose; the one with the most steps where none is named.

    Raises
    ------
    NotPossible : no law of any rig; with why. UnknownThing : no such rig.
    """
    name, found = _law(flow_laws(lab, book, graph), rig)
    law = found.law
    assert law is not None
    steps = list(_steps(lab, graph, found))
    nominal = steps[0].nominal
    apart = [each for each in steps if each.is_apart]
    groups = _groups(steps)
    points = tuple(_point(each, groups, name, accent=each.point.fan == fan) for each in steps)
    fans = {each.point.fan for each in steps}
    at, half = _band(law, nominal)
    picture = AgreementChart(
        title=_title(steps, apart, groups, name),
        subtitle=f"Temperature rise {words.nominal_words(nominal, name)} through {short_name(book, found.radiator)}: "
        "predicted by each fan’s airflow from all others, against measured; lines show 95 %",
        footer=footer(book.settings, f"heat law, R = R₀ + c·Q^−{law.m:.2f}",
                      f"{wording.plural(len(fans), 'fan')}, {wording.plural(len(steps), 'step')}"),
        x_label="Predicted from airflow",
        y_label="Measured",
        unit="K",
        points=points,
        at=tuple(map(float, at)),
        low=tuple(map(float, at - half)),
        high=tuple(map(float, at + half)),
        band_words=f"within {_percent(law)} for 95 % of fans",
        notes=tuple(_notes(found, points)),
        alt=agreement_alt(
            f"{words.nominal_words(nominal, name)}", len(steps), len(fans), _spread(steps),
            [f"{each.name} ({each.word})" for each in points if each.word],
        ),
    )  # fmt: skip
    return picture, plain_name("agreement", name)


def _law(laws: Mapping[str, RigLaw], rig: str) -> tuple[str, RigLaw]:
    """The rig's name, and the law of its latest era; of the rig with the most steps where none is named."""
    of_rigs = {found.era.rig for found in laws.values()}
    if rig and rig not in of_rigs:
        raise UnknownThing("heat rig", found=repr(rig), expected=wording.listed(sorted(of_rigs), last="or"))
    here = [each for each in laws.values() if rig in ("", each.era.rig)]
    there = [each for each in here if each.law is not None]
    if not there:
        whys = "; ".join(dict.fromkeys(each.why for each in here if each.why)) or "no heat run"
        raise NotPossible("agreement of airflow and heat", found=whys, expected=words.NO_RUNS)
    found = max(there, key=lambda each: (each.era.number if rig else 0, len(each.points)))
    return found.era.rig, found


def _steps(lab: Lab, graph: Graph, found: RigLaw) -> Iterable[Step]:
    """The points of the law with the steps behind them, in order of what is predicted."""
    nodes = {each.subject: each for each in graph.heating()}
    heats: dict[str, HeatMounting] = {}
    for point in sorted(found.points, key=lambda each: each.predicted):
        if point.mounting not in heats:
            heats[point.mounting] = load_heat(lab.path, result_of(lab, nodes[point.mounting]))
        heat = heats[point.mounting]
        step = next(each for each in heat.steps if each.number == point.step)
        yield Step(point, step, heat.nominal)


def _groups(steps: Sequence[Step]) -> dict[str, str]:
    """{mounting: "heat" or "airflow"} of those that disagree: which rig speaks against the other.

    Where other heat mountings of the fan agree, this run of the heat rig stands alone; where all of them are off the
    same way, the fan's airflow is the one thing that they share.
    """
    apart = Counter(each.point.mounting for each in steps if each.is_apart)
    found = {}
    for mounting in apart:
        own = next(each for each in steps if each.point.mounting == mounting)
        others = [
            each for each in steps if each.point.fan == own.point.fan and each.point.mounting != mounting
        ]
        all_off = bool(others) and all(each.is_apart for each in others)
        found[mounting] = "airflow" if all_off else "heat" if others else ""
    return found


def _word(group: str, rig: str) -> str:
    """Which rig a step that disagrees speaks against."""
    said = {"heat": f"{rig} disagrees in this run alone", "airflow": "its airflow disagrees in all runs"}
    return said.get(group, f"airflow and {rig} disagree")


def _point(each: Step, groups: Mapping[str, str], rig: str, *, accent: bool) -> AgreementPoint:
    point, nominal = each.point, each.nominal
    predicted, wide = point.predicted * nominal, words.Z95 * point.u_predicted * nominal
    measured, half = point.measured * nominal, words.Z95 * each.step.u_own
    return AgreementPoint(
        label=point.fan,
        predicted=predicted,
        predicted_low=predicted - wide,
        predicted_high=predicted + wide,
        measured=measured,
        low=measured - half,
        high=measured + half,
        word=_word(groups[point.mounting], rig) if each.is_apart else "",
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
    return wording.with_unit(wording.number(words.Z95 * law.scatter * 100.0, 1), "%")


# --- words ------------------------------------------------------------------------------------------------


def _title(steps: Sequence[Step], apart: Sequence[Step], groups: Mapping[str, str], rig: str) -> str:
    if not apart:
        return f"Airflow and heat agree in all {wording.plural(len(steps), 'step')}"
    mountings = list(dict.fromkeys(each.point.mounting for each in apart))
    if len(mountings) == 1:
        return f"Airflow and heat agree but for {wording.isolate(mountings[0])}: {_word(groups[mountings[0]], rig)}"
    return f"Airflow and heat disagree in {wording.count(len(apart))} of {wording.plural(len(steps), 'step')}"


def _spread(steps: Sequence[Step]) -> str:
    away = [abs(each.point.measured / each.point.predicted - 1.0) * 100.0 for each in steps]
    return f"half of the steps lie within {wording.bare(float(np.median(away)))} % of what is predicted"


def _notes(found: RigLaw, points: Sequence[AgreementPoint]) -> Iterable[str]:
    if any(each.how is Settled.FORECAST for each in points):
        yield "Open diamonds: runs that were forecast, not waited for."
    if found.left_out:
        reasons: dict[str, list[str]] = {}
        for name, why in found.left_out.items():
            reasons.setdefault(why.rstrip("."), []).append(name)
        said = "; ".join(f"{wording.listed(names, most=4)} ({why})" for why, names in reasons.items())
        yield f"Not drawn: {said}."
