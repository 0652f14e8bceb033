"""Accuracies in one line, as data sheets print them: "± 0.25 % of reading ± 0.1 Pa"."""

from __future__ import annotations

import re
from dataclasses import dataclass

from stillroom.errors import BadInput, Contradiction, UnknownUnit
from stillroom.vocabulary import BY_NAME, is_unit, unit

EXAMPLES = (
    "± 3 % of reading",
    "± 0.25 % of reading ± 0.1 Pa",
    "± (0.5 % + 0.1 Pa)",
    "+/- 2 rpm",
    "0.1 % FS of 500 Pa",
)

_TERM = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<rest>.*)")
_PERHAPS_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")
_OF_READING = re.compile(
    r"%(?:\s*(?:of\s+)?(?:the\s+)?(?:reading|rdg|value|measured value|mv))?", re.IGNORECASE
)
_FULL_SCALE = re.compile(r"%\s*(?:of\s+)?(?:fs|f\.s\.|full\s+scale|span|range)\s*(?P<span>.*)", re.IGNORECASE)
_OF_SPAN = re.compile(r"%\s*of\s+(?P<span>\d.*)", re.IGNORECASE)
_SPAN = re.compile(
    r"(?:of\s+|:\s*)?(?P<number>\d+(?:\.\d+)?)(?:\s+|(?=[^\d\s.]))(?P<unit>\S.*)", re.IGNORECASE
)
_BETWEEN = re.compile(r"[±+]|\band\b")
_TEXT_LIMIT = 200


@dataclass(frozen=True)
class Accuracy:
    """A stated accuracy as half-widths that add up: the true value lies within ± half_width(reading).

    Parameters
    ----------
    text : as it was stated.
    relative : share of the reading [1].
    absolute : fixed part [SI unit of the quantity].
    of_full_scale : the part that was stated as a share of the full scale, as a fixed part [SI].
    dimension : the dimension of the fixed parts; empty where there are none.
    """

    text: str
    relative: float = 0.0
    absolute: float = 0.0
    of_full_scale: float = 0.0
    dimension: str = ""

    @property
    def fixed(self) -> float:
        """The part that doesn't depend on the reading [SI]."""
        return self.absolute + self.of_full_scale

    def half_width(self, reading: float) -> float:
        """The half-width at a reading [SI]."""
        return self.relative * abs(reading) + self.fixed


def parse_accuracy(text: str, *, quantity: str = "", place: str = "") -> Accuracy:
    """The accuracy that a line states.

    Parameters
    ----------
    text : such as one of `EXAMPLES`; several parts add up. "%" alone is a share of the reading; but where
        the quantity itself is given in % (humidity, duty) it is that unit, and a share is "% of reading".
    quantity : the quantity that is measured, so that units are checked; any unit when empty.
    place : where the line stands, for messages.

    Raises
    ------
    BadInput : the line isn't understood, or states nothing or more than 100 %.
    UnknownUnit : its unit is unknown.
    Contradiction : its unit isn't one of the quantity, or its parts have different dimensions.
    """
    bare = " ".join(text[:_TEXT_LIMIT].replace("+/-", "±").replace("+-", "±").split())
    bare = bare.replace("(", " ").replace(")", " ")
    terms = [term.strip() for term in _BETWEEN.split(bare) if term.strip()]
    if not terms or len(text) > _TEXT_LIMIT:
        raise _not_understood(text, place)
    parts = [_term(term, text, quantity, place) for term in terms]
    dimensions = {each.dimension for each in parts if each.dimension}
    wanted = BY_NAME[quantity].dimension if quantity else ""
    if len(dimensions | ({wanted} if wanted else set())) > 1:
        expected = f"a unit of {wanted}" if wanted else "one dimension"
        raise Contradiction("accuracy", place=place, found=repr(text), expected=expected)
    accuracy = Accuracy(
        text=" ".join(text.split()),
        relative=sum(each.relative for each in parts),
        absolute=sum(each.absolute for each in parts),
        of_full_scale=sum(each.of_full_scale for each in parts),
        dimension=next(iter(dimensions), ""),
    )
    _check(accuracy, quantity, place)
    return accuracy


def _term(term: str, text: str, quantity: str, place: str) -> Accuracy:
    """One part of the line."""
    hit = _TERM.fullmatch(term)
    if hit is None or _PERHAPS_THOUSANDS.fullmatch(hit["number"]):
        raise _not_understood(text, place)
    number, rest = float(hit["number"].replace(",", ".")), hit["rest"].strip()
    if _OF_READING.fullmatch(rest):
        if rest == "%" and quantity and BY_NAME[quantity].dimension == "ratio":
            return Accuracy(term, absolute=number / 100, dimension="ratio")
        return Accuracy(term, relative=number / 100)
    full_scale = _FULL_SCALE.fullmatch(rest) or _OF_SPAN.fullmatch(rest)
    if full_scale:
        return _of_full_scale(term, number, full_scale["span"].strip(), text, place)
    if not rest:
        raise UnknownUnit("accuracy", place=place, found=f"{text!r}, without a unit", expected=_examples())
    if rest.startswith("%") and not is_unit(rest):
        raise _not_understood(text, place)
    if not is_unit(rest):
        raise UnknownUnit("accuracy", place=place, found=f"{rest!r} in {text!r}", expected=_examples())
    known = unit(rest)
    return Accuracy(term, absolute=number * known.factor, dimension=known.dimension)


def _of_full_scale(term: str, percent: float, span: str, text: str, place: str) -> Accuracy:
    hit = _SPAN.fullmatch(span)
    if hit is None:
        expected = "the full scale as well, such as '0.1 % FS of 500 Pa'"
        raise BadInput("accuracy", place=place, found=repr(text), expected=expected)
    known = unit(hit["unit"], place=place)
    width = percent / 100 * float(hit["number"]) * known.factor
    return Accuracy(term, of_full_scale=width, dimension=known.dimension)


def _check(accuracy: Accuracy, quantity: str, place: str) -> None:
    """A share of a temperature has no fixed zero; nothing, or all of the reading, is no accuracy."""
    if accuracy.relative and quantity and BY_NAME[quantity].dimension == "temperature":
        expected = "a fixed part, such as '± 0.2 K'"
        raise BadInput("accuracy of a temperature", place=place, found=repr(accuracy.text), expected=expected)
    if not 0 <= accuracy.relative < 1 or accuracy.relative + accuracy.fixed <= 0:
        expected = "more than nothing and less than 100 %"
        raise BadInput("accuracy", place=place, found=repr(accuracy.text), expected=expected)


def _not_understood(text: str, place: str) -> BadInput:
    return BadInput("accuracy", place=place, found=repr(text[:_TEXT_LIMIT]), expected=_examples())


def _examples() -> str:
    return "such as " + ", ".join(repr(each) for each in EXAMPLES)
