"""Asking by what is wanted: which fans meet it, surely, perhaps or not, and how each number was had."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from stillroom import wording
from stillroom.compare.standing import Ranking, Standing
from stillroom.core.multiple import Verdict
from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.compared import compared
from stillroom.lab.constraints import Judgement, Meets, Wanted, judged
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked, as_written
from stillroom.lab.measure_words import words_of
from stillroom.lab.pictures.pictures import ranking_words
from stillroom.lab.ranking_words import gap_unit
from stillroom.lab.system_words import conditions_line
from stillroom.lab.unanswered import unanswered
from stillroom.lab.whole import Whole, worked_out
from stillroom.measures import MEASURES, as_asked, measure_named
from stillroom.verbs.conditions import Conditions
from stillroom.verbs.doors import open_lab, quantity
from stillroom.verbs.said import Said, Table
from stillroom.vocabulary import BY_NAME, from_si, is_unit, unit

SCHEMA = "stillroom/constrained/1"

_NUMBER = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*(.*?)\s*")


@dataclass(frozen=True)
class Want:
    """What is wanted, as somebody writes it; "" where nothing is.

    Parameters
    ----------
    fan : the only one that is asked for. measure : by its name. at_least, at_most : numbers with their units.
    under_price : the most that it may cost; 0 where any price will do. size, thickness : of the frame.
    against : a fan to be held against.
    """

    fan: str = ""
    measure: str = ""
    at_least: str = ""
    at_most: str = ""
    under_price: float = 0.0
    size: str = ""
    thickness: str = ""
    against: str = ""

    @property
    def is_told(self) -> bool:
        """Whether anything but a fan is told."""
        return self != Want(fan=self.fan)


def constrained(
    want: Want, through: str, conditions: Conditions, lab: Path | None, progress: Progress
) -> Said:
    """Answer which fans meet what is wanted.

    Raises
    ------
    BadInput : a number or unit that can't be what is meant. UnknownThing : a measure or a fan that there isn't.
    """
    if want.under_price < 0.0 or not math.isfinite(want.under_price):
        raise BadInput("--under-price", found=f"{want.under_price:g}", expected="a price above 0")
    with open_lab(lab) as opened:
        whole = worked_out(opened, progress)
        if want.measure and want.measure not in {each.name for each in MEASURES}:
            open_question = unanswered(whole.book, want.measure, want.fan)
            if open_question is not None:
                said = f"{wording.sentence(open_question.topic)[:-1]}: unknown. {wording.sentence(open_question.why)}"
                data = {"schema": SCHEMA, "topic": open_question.topic, "how": "unknown", "why": open_question.why,
                        "needed": open_question.needed}  # fmt: skip
                return Said(said, lines=(f"Needed: {open_question.needed}",), data=data)
        asked, wanted = _asked(want, through, conditions)
        fans = as_written(whole.book, whole.graph, tuple(each for each in (want.fan, want.against) if each))
        asked = replace(asked, only=fans if want.fan else ())
        against = fans[-1] if want.against else ""
        ranking = compared(whole, asked, progress).ranking
        _refuse_unknown(ranking, against)
        wanted = _in_unit(wanted, ranking.unit)
        found = [each for each in judged(ranking, wanted, whole.book, against)
                 if not want.fan or each.fan == fans[0]]  # fmt: skip
        among = _among(whole, asked, ranking, wanted, found)
    return Said(
        _title(asked, ranking, among, wanted, found, against),
        tables=(("", _table(ranking, wanted, found, against)),) if found else (),
        lines=tuple(_lines(ranking, wanted, found)),
        data=_data(asked, ranking, wanted, found, against),
    )


def _asked(want: Want, through: str, conditions: Conditions) -> tuple[Asked, Wanted]:
    """What is compared, and what is wanted of it in SI. A bound of another quantity sets the condition: a noise limit
    for an airflow, an airflow for a level.
    """
    measure = measure_named(want.measure or ("airflow" if through else "free-airflow"))
    own = _dimension(measure.quantity)
    bounds: dict[str, float | None] = {}
    for option, text in (("at_least", want.at_least), ("at_most", want.at_most)):
        there = _dimension_told(text, measure.quantity)
        if text and there != own:
            conditions = _as_condition(option, text, own, there, conditions)
        else:
            usual = BY_NAME[measure.quantity].shown
            bounds[option] = quantity(text, f"--{option.replace('_', '-')}", own, usual)
    condition = conditions.through(through)
    asked = Asked(as_asked(measure, condition), condition, quantity(want.size, "--size", "length", "mm"))
    thickness = quantity(want.thickness, "--thickness", "length", "mm")
    return asked, Wanted(bounds.get("at_least"), bounds.get("at_most"), want.under_price or None, thickness)


def _dimension(name: str) -> str:
    return unit(BY_NAME[name].unit).dimension


def _dimension_told(text: str, usual: str) -> str:
    """The dimension of a bound's unit; of one without a unit, or with one that isn't known, that of the measure."""
    hit = _NUMBER.fullmatch(text)
    symbol = hit[2] if hit else ""
    return unit(symbol).dimension if symbol and is_unit(symbol) else _dimension(usual)


def _as_condition(option: str, text: str, own: str, there: str, conditions: Conditions) -> Conditions:
    if option == "at_most" and there in ("level", "loudness") and not conditions.noise:
        return replace(conditions, noise=(text,))
    if (
        option == "at_least"
        and there == "flow"
        and own in ("level", "loudness", "speed")
        and not conditions.for_flow
    ):
        return replace(conditions, for_flow=text)
    raise BadInput(
        f"--{option.replace('_', '-')}",
        found=f"{text!r}, a {there}",
        expected=f"a {own}; at most a level, or at least an airflow, set the condition once",
    )


def _refuse_unknown(ranking: Ranking, against: str) -> None:
    known = [*(each.fan for each in ranking.standings), *(each.fan for each in ranking.excluded)]
    if against and against not in known:
        raise UnknownThing("--against", found=repr(against), expected=", ".join(known) or "a fan of the lab")


def _in_unit(wanted: Wanted, symbol: str) -> Wanted:
    """What is wanted, in the unit of the ranking."""
    ends = (each if each is None else from_si(each, symbol) for each in (wanted.at_least, wanted.at_most))
    least, most = ends
    return replace(wanted, at_least=least, at_most=most)


def _among(
    whole: Whole, asked: Asked, ranking: Ranking, wanted: Wanted, found: Sequence[Judgement]
) -> Ranking:
    """The ranking of the fans alone that price and thickness leave, where these are asked for."""
    if asked.only or wanted.is_of_value or (wanted.price is None and wanted.thickness is None):
        return ranking
    left = tuple(each.fan for each in found if each.meets in (Meets.SURELY, Meets.PERHAPS))
    return compared(whole, replace(asked, only=left)).ranking if left else ranking


# --- words ---------------------------------------------------------------------------------------------------


def _title(
    asked: Asked, ranking: Ranking, among: Ranking, wanted: Wanted, found: Sequence[Judgement], against: str
) -> str:
    """The answer in a sentence."""
    if not found:
        return f"{asked.measure.title}: unknown of every fan."
    wants = wants_words(asked, ranking, wanted)
    if wanted.is_of_value:
        groups = {meets: [each.fan for each in found if each.meets is meets] for meets in Meets}
        said = [f"{SAID[meets]}{wording.listed(fans)}" for meets, fans in groups.items() if fans]
        return f"{wants}: {'; '.join(said)}."
    if against:
        return _against_words(asked, found, against)
    if among is not ranking and among.standings:
        return f"Of {wording.plural(len(among.standings), 'fan')} with {wants}: {ranking_words(among, asked.measure)}"
    if wanted.price is not None or wanted.thickness is not None:
        return f"No fan with {wants} is known to the lab."
    return ranking_words(ranking, asked.measure)


SAID = {
    Meets.SURELY: "surely ",
    Meets.PERHAPS: "perhaps ",
    Meets.NOT: "not ",
    Meets.UNKNOWN: "unknown of ",
}


def wants_words(asked: Asked, ranking: Ranking, wanted: Wanted) -> str:
    """What is wanted, in words: "Airflow through rad27 at 30 dBA at least 60 m³/h, at most 20 EUR"."""
    parts = []
    for word, bound in (("at least", wanted.at_least), ("at most", wanted.at_most)):
        if bound is not None:
            parts.append(f"{word} {wording.with_unit(f'{bound:.4g}', ranking.unit)}")
    head = asked.measure.title + words_of(asked).removeprefix(asked.measure.name) if parts else ""
    told = [f"{head} {' and '.join(parts)}"] if parts else []
    if wanted.price is not None:
        currency = ranking.prices.currency if ranking.prices else ""
        told.append(f"a price of at most {wording.with_unit(f'{wanted.price:g}', currency)}")
    if wanted.thickness is not None:
        told.append(f"a thickness of {wanted.thickness * 1000:.3g} mm as printed")
    return ", ".join(told)


BETTER = {"level": ("quieter than", "louder than"), "loudness": ("less loud than", "louder than")}
"""Of what a reader says "quieter"; of other measures a fan is ahead or behind."""


def _against_words(asked: Asked, found: Sequence[Judgement], against: str) -> str:
    better, worse = BETTER.get(asked.measure.name, ("ahead of", "behind"))
    groups: dict[str, list[str]] = {}
    for each in found:
        if each.fan != against:
            words = {Verdict.AHEAD: better, Verdict.BEHIND: worse}.get(
                each.beside.verdict, wording.TIED_MARK
            ) if each.beside else "unknown"  # fmt: skip
            groups.setdefault(words, []).append(each.fan)
    whom = wording.isolate(against)
    said = []
    for words, fans in groups.items():
        if words == wording.TIED_MARK:
            said.append(f"too close to call against {whom}: {wording.listed(fans)}")
        else:
            said.append(f"{words} {whom}: {wording.listed(fans)}" if words != "unknown"
                        else f"unknown against {whom}: {wording.listed(fans)}")  # fmt: skip
    return wording.sentence("; ".join(said)) if said else f"Nothing to hold against {whom}."


def _table(ranking: Ranking, wanted: Wanted, found: Sequence[Judgement], against: str) -> Table:
    asks = wanted != Wanted()
    currency = ranking.prices.currency if ranking.prices else ""
    headers = ["fan", *(["meets it"] if asks else []), f"value [{ranking.unit}], 95 % interval", "how"]
    headers += [f"price [{currency}]"] if ranking.prices else []
    headers += [f"minus {against}", "verdict"] if against else []
    headers += ["basis", "marks", "why"]
    rows = []
    for each in found:
        row = [each.fan, *([each.meets.value] if asks else []), _value(each.standing), each.how]
        row += [f"{each.price:.2f}" if each.price is not None else ""] if ranking.prices else []
        row += _beside(each, ranking) if against else []
        rows.append(
            (*row, _basis(each.standing), ", ".join(each.standing.marks if each.standing else ()), each.why)
        )
    return Table(tuple(headers), tuple(rows))


def _value(standing: Standing | None) -> str:
    if standing is None:
        return "unknown"
    bound = f"{standing.bound.value} " if standing.bound.value and standing.ends is None else ""
    low, high = standing.low, standing.high
    if math.isfinite(low) and math.isfinite(high):
        return bound + wording.with_interval(standing.value, low, high, "")
    return bound + wording.bare(standing.value)


def _basis(standing: Standing | None) -> str:
    if standing is None or not standing.mountings:
        return "no raw data" if standing else ""
    return f"{wording.plural(standing.samples, 'sample')}, {wording.plural(standing.mountings, 'mounting')}"


def _beside(each: Judgement, ranking: Ranking) -> list[str]:
    found = each.beside
    if found is None:
        return ["", ""]
    words = {Verdict.AHEAD: "ahead", Verdict.BEHIND: "behind"}.get(found.verdict, wording.TIED_MARK)
    if not (math.isfinite(found.low) and math.isfinite(found.high)):
        return [wording.bare(found.difference), words]
    sign = "+" if found.difference > 0 else ""
    return [
        sign + wording.with_interval(found.difference, found.low, found.high, gap_unit(ranking.unit)),
        words,
    ]


def _lines(ranking: Ranking, wanted: Wanted, found: Sequence[Judgement]) -> list[str]:
    lines = [conditions_line(ranking.conditions)]
    if wanted.is_of_value:
        lines.append(
            "Surely: the whole 95 % interval lies within the bound; perhaps: the bound lies within it."
        )
    if wanted.thickness is not None:
        lines.append("Thickness is as printed: no record holds a measured one.")
    if any(each.how == "legacy" for each in found):
        lines.append("Legacy numbers can't be followed to readings.")
    return lines


def _data(
    asked: Asked, ranking: Ranking, wanted: Wanted, found: Sequence[Judgement], against: str
) -> dict[str, object]:
    return {
        "schema": SCHEMA,
        "measure": asked.measure.name,
        "unit": ranking.unit,
        "conditions": dict(ranking.conditions),
        "wanted": {"at_least": wanted.at_least, "at_most": wanted.at_most, "price": wanted.price,
                   "thickness": wanted.thickness, "against": against or None},
        "fans": [_fan_data(each) for each in found],
    }  # fmt: skip


def _fan_data(each: Judgement) -> dict[str, object]:
    value = each.standing.as_dict() if each.standing else {}
    beside = each.beside and {
        "difference": each.beside.difference,
        "low": each.beside.low if math.isfinite(each.beside.low) else None,
        "high": each.beside.high if math.isfinite(each.beside.high) else None,
        "verdict": each.beside.verdict.value,
    }
    told = {
        name: value.get(name)
        for name in ("value", "low", "high", "bound", "samples", "mountings", "marks", "key")
    }
    return {"fan": each.fan, "meets": each.meets.value, "why": each.why, "how": each.how, "price": each.price,
            **told, "against": beside}  # fmt: skip
