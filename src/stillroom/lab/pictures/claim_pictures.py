"""Claims and their verdicts as a chart and as a table of words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from stillroom import wording
from stillroom.charts.further_series import ClaimChart, ClaimRow, Sign
from stillroom.compare.claims import SAMPLES_TO_CALL_OUTSIDE, ClaimCheck
from stillroom.core.claims import ClaimVerdict
from stillroom.errors import NotPossible
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.vocabulary import from_si

ORDER = (
    ClaimVerdict.OUTSIDE,
    ClaimVerdict.WITHIN_UNCERTAINTY,
    ClaimVerdict.WITHIN_TOLERANCE,
    ClaimVerdict.NOT_CHECKABLE,
)
"""What a reader looks for first."""

DEFINITION = (
    "Within tolerance: measured within the printed ±. Outside: the whole 95 % interval lies beyond it. Within"
    f" uncertainty: between the two. A failure: outside on the worse side, from {SAMPLES_TO_CALL_OUTSIDE} samples on."
    " Where no ± is printed none is assumed."
)


def claim_chart(book: Book, checks: Sequence[ClaimCheck], fan: str = "") -> tuple[ClaimChart, str]:
    """Box against measured, and the name of the files: what fails first, then by how far it is from the box.

    Parameters
    ----------
    fan : under review: the words tell all of its claims.

    Raises
    ------
    NotPossible : there is no claim.
    """
    if not checks:
        raise NotPossible(
            "chart of claims", found="no claim", expected="a claims table: fan, quantity, value, unit"
        )
    order = sorted(checks, key=_place)
    measured = [each.measured for each in order if each.measured]
    mountings = max((each.mountings for each in measured), default=0)
    picture = ClaimChart(
        title=_title(order),
        subtitle="Measured in % of what the box prints, under the condition that the box prints; lines show 95 %"
        + ("; levels in words" if any(each.is_level and each.measured for each in order) else ""),
        footer=footer(book.settings, "claims", f"up to {wording.plural(mountings, 'mounting')} a fan"),
        rows=tuple(row_of(each) for each in order),
        notes=(DEFINITION,),
        alt=_alt(order, fan),
    )
    fans = list(dict.fromkeys(each.claim.fan for each in checks))
    return picture, plain_name("claims", *(fans if len(fans) < 4 else []))


def _place(each: ClaimCheck) -> tuple[int, bool, bool, float, str]:
    away = abs(each.ratio - 1.0) if each.ratio is not None else 0.0
    return ORDER.index(each.verdict), not each.falls_short, not each.is_failure, -away, each.claim.name


def row_of(check: ClaimCheck) -> ClaimRow:
    """One claim as a row; numbers in the unit of the box."""
    claim, measured = check.claim, check.measured
    within = _within(check)
    printed = wording.with_unit(f"{claim.value:g}", claim.unit) + within
    label = f"{claim.fan}, {check.title}"
    if measured is None or not check.value:
        return ClaimRow(label, check.words, Sign.UNCHECKED, printed, condition=claim.condition or "")
    value, low, high = (from_si(each, claim.unit) for each in (measured.value, measured.low, measured.high))
    basis = f"{wording.plural(measured.samples, 'sample')}, {wording.plural(measured.mountings, 'mounting')}"
    told = wording.with_interval(value, low, high, claim.unit)
    short = f"box {claim.value:g}{within}, measured " + wording.with_unit(
        wording.rounded(value, low, high), claim.unit
    )
    if (
        check.is_level
    ):  # the ratio of two levels means nothing: it has words, and no place among the percentages
        return ClaimRow(label, check.words, _sign(check), printed, told, short, basis=basis,
                        condition=claim.condition or "")  # fmt: skip
    ratio, least, most = (
        100.0 * each / check.value for each in (measured.value, measured.low, measured.high)
    )
    return ClaimRow(
        label=label,
        verdict=check.words,
        sign=_sign(check),
        claim=printed,
        measured=told,
        short=short,
        ratio=ratio,
        low=min(least, most),
        high=max(least, most),
        tolerance=100.0 * check.tolerance,
        basis=basis,
        condition=claim.condition or "",
    )


def _within(check: ClaimCheck) -> str:
    """The printed tolerance."""
    if not check.tolerance:
        return ""
    size = (
        f"{check.tolerance:g}{wording.NO_BREAK}dB"
        if check.is_level
        else f"{100 * check.tolerance:g}{wording.NO_BREAK}%"
    )
    return f" ± {size}"


def _sign(check: ClaimCheck) -> Sign:
    if check.verdict is ClaimVerdict.OUTSIDE:
        return Sign.FAILS if check.is_failure else Sign.UNPROVEN if check.falls_short else Sign.HOLDS
    return Sign.HOLDS if check.verdict is ClaimVerdict.WITHIN_TOLERANCE else Sign.UNRESOLVED


def _title(checks: Sequence[ClaimCheck]) -> str:
    """The finding: how many claims fail, and whose."""
    failed = [each for each in checks if each.is_failure]
    total = len([each for each in checks if each.measured])
    if not total:
        return f"None of {wording.plural(len(checks), 'claim')} can be checked"
    if not failed:
        held = all(each.verdict is ClaimVerdict.WITHIN_TOLERANCE for each in checks if each.measured)
        if held:
            return (
                "The one claim that can be checked holds"
                if total == 1
                else f"All {wording.count(total)} claims that can be checked hold"
            )
        if total == 1:
            return "The one claim that can be checked is not proven to fail"
        return f"None of {wording.count(total)} claims that can be checked is proven to fail"
    if len(failed) == 1:
        only = failed[0]
        above = only.difference > 0.0 if only.difference is not None else bool(only.ratio and only.ratio > 1)
        side = "above" if above else "below"
        away = only.far if only.is_level else f"{abs(100 * (only.ratio or 1.0) - 100):.0f} %"
        return f"{wording.isolate(only.claim.fan)}’s {only.title} is {away} {side} its box"
    fans = list(dict.fromkeys(each.claim.fan for each in failed))
    whose = wording.listed(fans, most=4)
    return f"{wording.count(len(failed)).capitalize()} of {wording.plural(total, 'claim')} fail: {whose}"


def claim_counts(checks: Sequence[ClaimCheck]) -> str:
    """How many claims have which verdict, in one line."""
    counts = Counter(each.verdict for each in checks)
    said = [f"{counts[verdict]} {verdict.value}" for verdict in ORDER if counts[verdict]]
    return ", ".join(said)


def _alt(checks: Sequence[ClaimCheck], fan: str) -> str:
    """The counts, then what lies off its box, and the claims of the fan under review; the table has the rest."""
    off = (ClaimVerdict.OUTSIDE, ClaimVerdict.WITHIN_UNCERTAINTY)
    said = [
        f"{each.claim.fan}, {each.title}: box {each.claim.value:g} {each.claim.unit}, {each.words}"
        + (f", measured {100 * each.ratio:.0f} % of it" if each.ratio else "")
        for each in checks
        if each.verdict in off or each.claim.fan == fan
    ]
    return wording.claims_alt(claim_counts(checks), said)


HEADERS = ("fan", "quantity", "box", "condition", "measured", "of the box", "z", "verdict", "basis", "key")


def claim_cells(check: ClaimCheck) -> tuple[str, ...]:
    """One claim as cells of a table, under `HEADERS`."""
    row, measured = row_of(check), check.measured
    share = (
        ""
        if row.ratio is None or row.low is None or row.high is None
        else (wording.rounded(row.ratio, row.low, row.high) + wording.NO_BREAK + "%")
    )
    z = "" if check.z is None else wording.number(check.z, 1)
    return (check.claim.fan, check.title, row.claim, row.condition, row.measured, share, z, check.words,
            row.basis, measured.key[:10] if measured else "")  # fmt: skip


def claim_data(check: ClaimCheck) -> dict[str, object]:
    """One claim as data; values in SI."""
    measured = check.measured
    return {
        "fan": check.claim.fan,
        "quantity": check.title,
        "printed": {"value": check.claim.value, "unit": check.claim.unit, "condition": check.claim.condition},
        "claim": check.value,
        "tolerance": check.tolerance,
        "verdict": check.verdict.value,
        "verdict_words": check.words,
        "falls_short": check.falls_short,
        "is_failure": check.is_failure,
        "why": check.why,
        "z": check.z,
        "measured": None
        if measured is None
        else {
            "value": measured.value,
            "low": measured.low,
            "high": measured.high,
            "standard_uncertainty": measured.uncertainty,
            "samples": measured.samples,
            "mountings": measured.mountings,
            "key": measured.key,
            "marks": list(measured.marks),
        },
    }
