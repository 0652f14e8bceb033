"""What the reader's page is told of the release: its words, units, links, and where its settings start."""

from __future__ import annotations

import html
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stillroom.lab.pictures.picture_words import short_name
from stillroom.lab.versions import versioned
from stillroom.publish.contents import Contents
from stillroom.publish.page.mark_words import MEANINGS
from stillroom.publish.page.published_rankings import size_told
from stillroom.vocabulary import BY_NAME, shown_unit, unit

OFFERED = {"flow": ("m³/h", "CFM"), "pressure": ("Pa", "mmH₂O")}
"""The units among which readers choose; the lab's own is offered too."""

QUANTITIES = {"flow": "flow", "pressure": "static_pressure"}

AIRFLOW = "airflow"
"""The measure that the page looks up."""

LINKS = (
    ("Methodology", "../documents/methodology.html"),
    ("What may be said, in words", "../documents/account.html"),
    ("Tables", "../standings/standings.xlsx"),
    ("Open data", "../data/datapackage.json"),
    ("All of this release", "../index.html"),
)


def release_told(contents: Contents) -> dict[str, Any]:
    """What release.js sets: names, units with their factors to SI, the settings to start with, links."""
    shown = {kind: shown_unit(BY_NAME[name], contents.settings.units) for kind, name in QUANTITIES.items()}
    return {
        "lab": contents.settings.name,
        "release": contents.name,
        "date": contents.date,
        "highlight": contents.highlight,
        "question": contents.question,
        "shown": shown,
        "units": {
            kind: [_unit_told(each) for each in dict.fromkeys((*OFFERED[kind], shown[kind]))]
            for kind in OFFERED
        },
        "usual": _usual(contents),
        "obstacles": _obstacles(contents),
        "meanings": MEANINGS,
    }


def _obstacles(contents: Contents) -> dict[str, dict[str, str]]:
    """{name: how a sentence names it, and with its description} of the lab's obstacles, by each of their names."""
    book = contents.book
    found = {}
    for record in book.obstacles.values():
        full = versioned(record.obstacle, record.version)
        for name in (record.obstacle, full):
            short = short_name(book, full)
            told = f"{short}: {record.description}" if record.description else short
            found[name] = {"words": short, "told": told}
    return found


def _unit_told(symbol: str) -> dict[str, Any]:
    """A unit with its factor to SI and the ways in which people write it, folded as the page folds them."""
    found = unit(symbol)
    words = dict.fromkeys(_folded(each) for each in (found.symbol, *found.aliases))
    return {"symbol": found.symbol, "factor": found.factor, "words": list(words)}


def _folded(word: str) -> str:
    return word.lower().replace("³", "3").replace("₂", "2")


def _usual(contents: Contents) -> Mapping[str, Any]:
    """Where the page starts: the first published airflow at a noise limit, else the first airflow."""
    flows = [each for each in contents.published if each.measure.name == AIRFLOW]
    limited = [each for each in flows if each.asked.condition.noise is not None]
    first = next(iter((*limited, *flows)), None)
    if first is None:
        return {}
    return {
        "through": first.asked.condition.obstacle,
        "limit": first.asked.condition.noise,
        "size": size_told(first.ranking),
    }


def index_words(contents: Contents, root: Path) -> dict[str, str]:
    """The words of index.html, escaped.

    Parameters
    ----------
    root : the release's folder, in which links must lead to something.
    """
    lab, name = contents.settings.name, contents.name
    links = "".join(
        f'<li><a href="{html.escape(href)}">{html.escape(words)}</a></li>'
        for words, href in LINKS
        if href.endswith("index.html") or (root / href.removeprefix("../")).exists()
    )
    plain = {
        "title": f"{lab}: choose a fan",
        "description": f"Fans as {lab} measured them, release {name} of {contents.date}: who leads at your noise "
        "limit, through your obstacle.",
        "lab": lab,
        "release": name,
        "date": contents.date,
    }
    return {key: html.escape(words) for key, words in plain.items()} | {"links": links}
