"""Pairs in the standings of a release: all of a few fans in full; of many some in full, and every verdict."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations

import pytest

from stillroom.core.multiple import Verdict
from stillroom.publish.contents import Contents, Published
from stillroom.publish.tables import pairs
from stillroom.publish.tables.writing import standings_json


def many(one: Published, count: int) -> Published:
    """The same measure with so many fans, whose verdicts follow no rule."""
    standing, pair = one.ranking.standings[0], one.ranking.pairs[0]
    said = list(Verdict)
    names = [f'Fan "{at}", "pairs": []' for at in range(count)]
    told = tuple(
        replace(pair, a=a, b=b, verdict=said[(at * at + at // 3) % 4])
        for at, (a, b) in enumerate(combinations(names, 2))
    )
    standings = tuple(replace(standing, fan=each) for each in names)
    ranking = replace(one.ranking, standings=standings, pairs=told, best=tuple(names), prices=None)
    return replace(one, ranking=ranking)


def test_every_pair_of_a_few_fans_is_written_in_full_on_a_line(gathered: Contents) -> None:
    for one in gathered.published:
        data = standings_json(gathered, one)
        told = json.loads(data)
        assert told["pairs"] == json.loads(json.dumps([each.as_dict() for each in one.ranking.pairs]))
        assert told["pairs_left_out"] is None
        assert data.decode().count('\n  {"a": ') == len(one.ranking.pairs) > 0


@pytest.mark.parametrize("count", [2, 63, 64, 200])
def test_every_verdict_can_be_read_back(gathered: Contents, count: int) -> None:
    one = many(gathered.published[0], count)
    contents = replace(gathered, highlight='Fan "1", "pairs": []')
    data = standings_json(contents, one)
    told = json.loads(data)
    assert list(pairs.verdicts_in(told)) == [(each.a, each.b, each.verdict) for each in one.ranking.pairs]
    full = [(each["a"], each["b"]) for each in told["pairs"]]
    if count <= 63:
        assert full == [(each.a, each.b) for each in one.ranking.pairs]
        return
    names = [each.fan for each in one.ranking.standings]
    assert full == [
        (a, b) for (i, a), (j, b) in combinations(enumerate(names), 2) if i == 0 or 1 in (i, j) or j == i + 1
    ]
    left = len(one.ranking.pairs) - len(full)
    assert told["pairs_left_out"].startswith(f"{left} of {len(one.ranking.pairs)} pairs are left out")
    assert 16 * len(data) < 10e6
