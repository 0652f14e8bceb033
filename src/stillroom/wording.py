"""Sentences: titles as findings, verdicts, alt text, and numbers with no more digits than they deserve.

Pure functions on numbers and strings. Numbers arrive in the unit that is shown. Rounding follows the
uncertainty: the half-width of an interval keeps at most two significant digits (JCGM 100:2008, 7.2.6), one
when its leading digits are 30 or more, and the value goes to the same place.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence

from stillroom.errors import BadInput
from stillroom.vocabulary import from_si, to_si, unit

NO_BREAK = "\u00a0"
NARROW = "\u202f"
COMMA = ","
"""Between groups of three figures, in print; never in a file."""
MINUS = "\u2212"

TIED_MARK = "too close to call"
BEST_MARK = "ahead of all"
UNIQUE_WORD = "stable"
UNSTABLE_WORD = "unstable"
NOT_UNIQUE_WORD = "not unique"

_COUNTS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)


# --- numbers ---------------------------------------------------------------------------------------------


def _finite(*values: float) -> None:
    for each in values:
        if not math.isfinite(each):
            raise BadInput("number to be written", found=repr(each), expected="a finite number")


def places_for(half_width: float) -> int:
    """The decimal place that an interval of this half-width allows (1 = tenths, −1 = tens).

    Raises
    ------
    BadInput : the half-width is zero, negative or not finite: it allows no statement about digits.
    """
    _finite(half_width)
    if half_width <= 0:
        raise BadInput("half-width of an interval", found=repr(half_width), expected="a positive number")
    mantissa, exponent = f"{half_width:.1e}".split("e")
    return (1 if float(mantissa) < 3 else 0) - int(exponent)


def number(value: float, places: int = 0) -> str:
    """A number in print: rounded to a decimal place, true minus, groups of three parted by commas.

    Parameters
    ----------
    value : the number, in the unit that is shown.
    places : decimals; negative places round to tens, hundreds …
    """
    _finite(value)
    text = f"{abs(round(value, places)):.{max(places, 0)}f}"
    whole, dot, decimals = text.partition(".")
    whole = f"{int(whole):{COMMA}}"
    is_negative = value < 0 and any(each in "123456789" for each in text)
    return (MINUS if is_negative else "") + whole + dot + decimals


def bare(value: float) -> str:
    """A number that comes without an uncertainty: three significant digits and no claim beyond them."""
    _finite(value)
    if value == 0:
        return "0"
    return number(value, 2 - int(f"{value:.2e}".split("e")[1]))


def alike(values: Sequence[float], figures: int = 4) -> list[str]:
    """A column of numbers to one place: the largest shows `figures` significant digits."""
    _finite(*values)
    largest = max((abs(each) for each in values), default=0.0)
    places = figures - 1 - int(f"{largest:.{figures - 1}e}".split("e")[1]) if largest else 0
    return [number(each, places) for each in values]


def rounded(value: float, low: float | None, high: float | None, *, most: int = 9) -> str:
    """A value to the place that its interval allows; three significant digits where there is no interval.

    Parameters
    ----------
    most : so many decimals at the most.
    """
    if low is None or high is None or low == high:
        return bare(value)
    return number(value, min(most, places_for((high - low) / 2)))


def with_unit(words: str, unit: str) -> str:
    """A number and its unit, held together; no blank before a degree of angle, none for a bare ratio."""
    if unit in ("", "1"):
        return words
    return f"{words}{NO_BREAK}{unit}"


def with_interval(value: float, low: float | None, high: float | None, unit: str) -> str:
    """A value with its 95 % interval: "48.2 m³/h (46.9 to 49.5)"."""
    if low is None or high is None or low == high:
        return f"{with_unit(bare(value), unit)} (no interval)"
    places = places_for((high - low) / 2)
    return f"{with_unit(number(value, places), unit)} ({number(low, places)} to {number(high, places)})"


def significant(value: float, low: float, high: float, unit: str) -> str:
    """A small or large coefficient with its 95 % interval, to two significant digits of it, by powers of ten
    where it is far from one: "1.15 · 10⁻³ Pa/(m³/h)² (1.12 to 1.18 · 10⁻³)".
    """
    _finite(value, low, high)
    power = math.floor(math.log10(abs(value))) if value else 0
    power = 0 if -2 <= power <= 3 else power
    scale = 10.0**-power
    times = f" · 10{str(power).translate(RAISED)}" if power else ""
    if low == high:
        return with_unit(f"{bare(value * scale)}{times}", unit)
    places = places_for((high - low) / 2 * scale)
    one, least, most = (number(each * scale, places) for each in (value, low, high))
    return f"{with_unit(one + times, unit)} ({least} to {most}{times})"


RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def spread(low: float, high: float, unit: str) -> str:
    """A range of values: "39 to 48 m³/h", to two significant digits of its width."""
    if low == high:
        return with_unit(bare(low), unit)
    places = places_for((high - low) / 2)
    return f"{number(low, places)} to {with_unit(number(high, places), unit)}"


# --- words -----------------------------------------------------------------------------------------------


def isolate(name: str) -> str:
    """A name that may be put into a sentence: right-to-left letters are kept from turning the sentence."""
    if any(unicodedata.bidirectional(each) in ("R", "AL", "AN") for each in name):
        return f"\u2068{name}\u2069"
    return name


def count(amount: int) -> str:
    """A small number in words, a larger one in figures."""
    return _COUNTS[amount] if 0 <= amount < len(_COUNTS) else number(amount)


def plural(amount: int, one: str) -> str:
    """An amount with its noun: "one fan", "five fans", "25 fans", "no mountings"."""
    return f"{count(amount)} {one if amount == 1 else one + 's'}"


def listed(items: Sequence[str], *, last: str = "and", most: int = 0) -> str:
    """Names as a sentence lists them: "A, B and C"; beyond `most` the rest are counted."""
    names = [isolate(each) for each in items]
    if most and len(names) > most:
        names = [*names[: most - 1], f"{count(len(names) - most + 1)} more"]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def sentence(words: str) -> str:
    """The words with a capital and a full stop; for words that begin with a name, `stopped`."""
    words = words.strip()
    return stopped(words[0].upper() + words[1:]) if words else ""


def stopped(words: str) -> str:
    """The words with a full stop, as they are otherwise: a name is not given a capital that it doesn't have."""
    return words + ("" if words[-1] in ".?!" else ".")


def ordinal(place: int) -> str:
    """1st, 2nd, 3rd, 4th, 11th …"""
    ending = "th" if place % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"


def rank_range(first: int, last: int) -> str:
    """A place, or the places that can't be told apart: "1st", "1st to 4th"."""
    return ordinal(first) if first == last else f"{ordinal(first)} to {ordinal(last)}"


def places(rank: tuple[int, int] | None) -> str:
    """The same in a table: "1", "1 to 4"; "none" for what has no rank."""
    if rank is None:
        return "none"
    first, last = rank
    return f"{first}" if first == last else f"{first} to {last}"


def direction_cue(*, larger_is_better: bool, better: str = "better") -> str:
    """The cue beside a bar chart; one to the left brings its arrow, which stands before it."""
    return f"longer is {better}" if larger_is_better else f"← shorter is {better}"


def mark_for(tied: int) -> str:
    """The word that the leader, and every fan tied with it, carries."""
    return TIED_MARK if tied > 1 else BEST_MARK


# --- titles and alt text -----------------------------------------------------------------------------------


def ranking_title(
    tied: Sequence[str], total: int, condition: str, claim: str, *, by: str = "", is_whole: bool = True
) -> str:
    """The finding of a ranking in one sentence without a full stop.

    Parameters
    ----------
    tied : the fans that can't be excluded as best, the leader first.
    total : how many fans were ranked.
    condition : where it holds, as a sentence begins ("Through the 27 mm radiator", "At 35 dBA").
    claim : what the best one does ("moves the most air").
    by : the measure, where the condition alone doesn't tell it ("best static efficiency").
    is_whole : whether every fan that was measured could be ranked; else the title says among how many.
    """
    apart = "can’t be told apart" + (f" by {by}" if by else "")
    if not tied:
        return f"{condition} no fan could be ranked"
    if len(tied) == 1 and total == 1:
        return f"{condition} only {isolate(tied[0])} could be {'measured' if is_whole else 'ranked'}"
    among = "" if is_whole else f" of the {count(total)} that could be ranked"
    if len(tied) == 1:
        return f"{condition} {isolate(tied[0])} {claim}{among}"
    if len(tied) == total:
        return f"{condition} the {plural(total, 'fan')}{'' if is_whole else ' that could be ranked'} {apart}"
    if len(tied) == 2 and sum(map(len, tied)) <= 36:
        return f"{condition} {listed(tied)}{among and ',' + among + ','} {apart}"
    return f"{condition} {plural(len(tied), 'fan')}{among} {apart}"


def ranking_alt(
    what: str,
    values: Sequence[tuple[str, str]],
    tied: Sequence[str],
    reviewed: tuple[str, str, str] | None = None,
    excluded: Sequence[str] = (),
) -> str:
    """Alt text of a ranking: what, range, the tied set, the place of the fan under review.

    Parameters
    ----------
    what : the measure and its condition ("airflow through the 27 mm radiator at full speed").
    values : (fan, value with unit) from best to worst.
    tied : the fans that can't be excluded as best.
    reviewed : (fan, its place in words, its value with interval) of the fan under review.
    excluded : the fans that can't be ranked.
    """
    order = " from best to worst" if len(values) > 1 else ""
    parts = [f"Bar chart of {what}, {plural(len(values), 'fan')}{order}"]
    if values:
        first, last = values[0], values[-1]
        reach = f"{first[1]} ({isolate(first[0])})"
        parts.append(f"From {reach} to {last[1]} ({isolate(last[0])})" if len(values) > 1 else reach)
    if len(tied) > 1:
        parts.append(f"{listed(tied)} are too close to call")
    elif tied and len(values) > 1:
        parts.append(f"{isolate(tied[0])} is ahead of all others")
    if reviewed:
        parts.append(f"{isolate(reviewed[0])}, the fan under review, is {reviewed[1]} with {reviewed[2]}")
    if excluded:
        parts.append(f"Not ranked: {listed(excluded)}")
    return " ".join(stopped(each) for each in parts)


def curves_alt(what: str, fans: Sequence[str], points: Sequence[tuple[str, str, str, str]]) -> str:
    """Alt text of PQ curves: what, whose, and each operating point.

    Parameters
    ----------
    what : the conditions ("at full speed, 1.2 kg/m³").
    fans : whose curves are drawn.
    points : (fan, obstacle, airflow with interval, stable / unstable / not unique).
    """
    parts = [f"PQ curves, static pressure against airflow, {what}, of {listed(fans)}"]
    parts += [
        f"{isolate(fan)} through {obstacle}: {flow}" + ("" if word == UNIQUE_WORD else f", {word}")
        for fan, obstacle, flow, word in points
    ]
    return " ".join(stopped(each) for each in parts)


def collapse_alt(fan: str, sweeps: int, mountings: int, residual: str, held: Sequence[str] = ()) -> str:
    """Alt text of a collapse plot: whose, how many sweeps, how close they lie, which one is held.

    Parameters
    ----------
    residual : how far the points lie from the curve, in words ("95 % of the points lie within 1.2 %").
    held : the sweeps that were not used.
    """
    parts = [
        f"All sweeps of {isolate(fan)} in dimensionless form, pressure coefficient ψ against flow "
        f"coefficient φ: {plural(sweeps, 'sweep')}, {plural(mountings, 'mounting')}, one fitted curve",
        residual,
    ]
    if held:
        parts.append(f"held, not used in the fit: {listed(held)}")
    return " ".join(sentence(each) for each in parts if each)


def panels_alt(what: str, fans: int, across: str, panels: Sequence[tuple[str, str]]) -> str:
    """Alt text of small multiples: what, how many fans, and what each panel shows.

    Parameters
    ----------
    across : what the panels stand for ("through three obstacles").
    panels : (one of them ("through rad27"), the range of values and which fans may be the best).
    """
    parts = [f"Small multiples of {what}: {plural(fans, 'fan')} {across}, one axis"]
    parts += [f"{one}: {said}" for one, said in panels]
    return " ".join(sentence(each) for each in parts)


def obstacles_alt(obstacles: Sequence[tuple[str, str]]) -> str:
    """Alt text of resistance curves: each obstacle with its drop at the greatest flow read."""
    parts = [f"Pressure drop against airflow of {plural(len(obstacles), 'obstacle')}"]
    parts += [f"{isolate(name)}: {said}" for name, said in obstacles]
    return " ".join(stopped(each) for each in parts)


def claims_alt(counts: str, claims: Sequence[str]) -> str:
    """Alt text of claims: how many have which verdict, then those that must be told."""
    parts = [f"What boxes claim beside what was measured: {counts}", *claims]
    return " ".join(stopped(each) for each in parts)


def control_alt(what: str, checks: int, signals: Sequence[str], events: Sequence[str]) -> str:
    """Alt text of a control chart: what is watched, how many checks, what they signal, what the log holds.

    Parameters
    ----------
    signals, events : each with its date.
    """
    parts = [f"Control chart of {what}: {plural(checks, 'check')}"]
    parts.append(f"signals: {'; '.join(signals)}" if signals else "no signal")
    parts += [f"events: {'; '.join(events)}"] if events else []
    return " ".join(sentence(each) for each in parts)


_NUMBER = r"\d+(?:,\d{3})*(?:\.\d+)?"
_MEASURED = re.compile(rf"((?:{_NUMBER}(?:, | to ))*{_NUMBER}) (m³/h|Pa)(?![\w/])")


def in_lab_units(sentence: str, units: Mapping[str, str]) -> str:
    """A sentence with its flows and pressures in the units that the lab chose, each with as many digits as before.

    Parameters
    ----------
    sentence : words in which m³/h and Pa stand after a number, or after numbers joined by commas or "to".
    units : {dimension: unit shown}.
    """

    def turned(hit: re.Match[str]) -> str:
        chosen = units.get(unit(hit[2]).dimension, hit[2])
        if chosen == hit[2]:
            return hit[0]
        numbers = re.sub(_NUMBER, lambda each: _turned(each[0], hit[2], chosen), hit[1])
        return f"{numbers} {chosen}"

    return _MEASURED.sub(turned, sentence)


def _turned(told: str, symbol: str, chosen: str) -> str:
    plain = told.replace(COMMA, "")
    value = from_si(to_si(float(plain), symbol), chosen)
    digits = len(plain.replace(".", "").lstrip("0"))
    if value == 0.0 or not digits:
        return told
    return f"{value:{COMMA}.{max(0, digits - 1 - math.floor(math.log10(value)))}f}"
