"""Pairs in the standings of a release: in full where a reader looks, the verdict of every other as one letter.

Of 200 fans there are 19 900 pairs: in full for sixteen measures they would take 60 MB.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stillroom.compare.standing import PairStanding, Ranking
from stillroom.core.multiple import Verdict

MOST = 2000
"""The most pairs that are written in full (those of 63 fans; our choice: half a megabyte a measure)."""

LETTERS = {
    each.value[0]: each for each in (Verdict.AHEAD, Verdict.TIED, Verdict.NOT_RESOLVED, Verdict.BEHIND)
}


def in_full(ranking: Ranking, highlight: str) -> tuple[list[PairStanding], str]:
    """The pairs that are written in full, and what is left out, in words; "" where nothing is.

    Of more than `MOST`: those with the first of the list, with the fan under review, and of neighbours in the list.
    """
    pairs = ranking.pairs
    if len(pairs) <= MOST:
        return list(pairs), ""
    places = {each.fan: at for at, each in enumerate(ranking.standings)}
    first = ranking.standings[0].fan
    kept = [
        each
        for each in pairs
        if {each.a, each.b} & {first, highlight} or abs(places[each.a] - places[each.b]) == 1
    ]
    return kept, (
        f"{len(pairs) - len(kept)} of {len(pairs)} pairs are left out, so that the file stays small: here are those"
        " with the first fan of the list, with the fan under review, and of neighbours in the list. `verdicts` has the"
        " verdict of every pair, `evidence.npz` of the release the trials."
    )


def letters_of(ranking: Ranking) -> dict[str, str]:
    """{fan: the first letter of its verdict against each fan beneath it in the list, in the list's order}."""
    told: dict[str, list[str]] = {each.fan: [] for each in ranking.standings}
    for pair in ranking.pairs:
        told.setdefault(pair.a, []).append(pair.verdict.value[0])
    return {fan: "".join(letters) for fan, letters in told.items()}


def verdicts_in(told: Mapping[str, Any]) -> Iterator[tuple[str, str, Verdict]]:
    """Every pair of the standings of a release, as its JSON has them: the two fans and the verdict."""
    fans: Sequence[str] = [str(each["fan"]) for each in told["standings"]]
    for at, a in enumerate(fans):
        for b, letter in zip(fans[at + 1 :], told["verdicts"][a], strict=True):
            yield a, b, LETTERS[letter]
