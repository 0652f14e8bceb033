"""Writing the standings of a release: one CSV and one JSON a measure, and one workbook of all."""

from __future__ import annotations

import json
from pathlib import Path

from stillroom.lab.executor import Progress
from stillroom.publish.contents import Contents, Published
from stillroom.publish.data.cells import csv_bytes
from stillroom.publish.data.standing_rows import FIELDS, headers, standing_rows
from stillroom.publish.tables.pairs import in_full, letters_of
from stillroom.publish.tables.workbook import workbook_bytes

WORKBOOK = "standings.xlsx"


def write_standings(contents: Contents, folder: Path, progress: Progress) -> list[Path]:
    """Write the tables of a release.

    Parameters
    ----------
    contents : of the release. folder : for the tables, made where it isn't there. progress : told how far it is.

    Returns
    -------
    list[Path] : the files written: SLUG.csv and SLUG.json of each measure, and standings.xlsx.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = {}
    for done, each in enumerate(contents.published):
        progress("tables", done, len(contents.published))
        files[f"{each.slug}.csv"] = standings_csv(contents, each)
        files[f"{each.slug}.json"] = standings_json(contents, each)
    files[WORKBOOK] = workbook_bytes(contents)
    for name, data in files.items():
        (folder / name).write_bytes(data)
    progress("tables", len(contents.published), len(contents.published))
    return [folder / name for name in files]


def standings_csv(contents: Contents, published: Published) -> bytes:
    """The standings of a measure as CSV: no digit more than the intervals allow."""
    rows = standing_rows(published.ranking, contents.book.fans)
    return csv_bytes(headers(published.ranking), ([row.get(each.name) for each in FIELDS] for row in rows))


def standings_json(contents: Contents, published: Published) -> bytes:
    """The standings of a measure as JSON: the documented shape of a ranking, with the release that it belongs to.

    Each pair takes one line; of many fans not all are written in full (`tables.pairs`).
    """
    registered, ranking = published.registered, published.ranking
    pairs, left_out = in_full(ranking, contents.highlight)
    told = {
        "release": contents.name,
        "date": contents.date,
        "slug": published.slug,
        "title": published.title,
        "registered": registered.words if registered else None,
        **ranking.as_dict(),
        "pairs": [],
        "pairs_left_out": left_out or None,
        "verdicts": letters_of(ranking),
    }
    lines = ",".join(f"\n  {_json(each.as_dict(), None)}" for each in pairs)
    return (_json(told, 1).replace(NO_PAIRS, f"{NO_PAIRS[:-1]}{lines}\n ]", 1) + "\n").encode()


NO_PAIRS = '"pairs": []'
"""Where the pairs belong; in no name, whose quotation marks are written otherwise."""


def _json(told: object, indent: int | None) -> str:
    return json.dumps(told, ensure_ascii=False, indent=indent, allow_nan=False)
