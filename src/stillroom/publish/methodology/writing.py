"""The methodology put together, and written beside a release."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

from stillroom.lab.executor import Progress, silent
from stillroom.publish.contents import Contents
from stillroom.publish.document import Block, Document
from stillroom.publish.document.as_data import as_data
from stillroom.publish.document.as_html import as_html
from stillroom.publish.document.as_pdf import as_pdf
from stillroom.publish.methodology.asked import what_was_asked
from stillroom.publish.methodology.difference import changes_since
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.fans import fans_and_samples
from stillroom.publish.methodology.geometry import geometry
from stillroom.publish.methodology.guide import guide
from stillroom.publish.methodology.history import eras_and_legacy, left_out
from stillroom.publish.methodology.instruments import rigs_and_instruments
from stillroom.publish.methodology.mountings import mounting_and_order
from stillroom.publish.methodology.plain import plain_words
from stillroom.publish.methodology.reduction import from_readings
from stillroom.publish.methodology.rules_applied import rules_and_findings
from stillroom.publish.methodology.uncertainty import uncertainty
from stillroom.publish.methodology.versions_used import versions_and_following

NAME = "methodology"

PARTS: tuple[Callable[[Facts], Iterator[Block]], ...] = (
    plain_words,
    what_was_asked,
    fans_and_samples,
    rigs_and_instruments,
    geometry,
    mounting_and_order,
    from_readings,
    rules_and_findings,
    uncertainty,
    eras_and_legacy,
    left_out,
    versions_and_following,
    guide,
)
"""The parts in their order: each writes only of what was done."""


def methodology_of(contents: Contents) -> Document:
    """The methodology of a release, written from the lab's records and results.

    Parameters
    ----------
    contents : of the release.

    Returns
    -------
    A document; the same contents give the same document.
    """
    facts = Facts(contents)
    return Document(
        title="How this was measured",
        subtitle=f"{contents.settings.name}, release {contents.name}",
        date=contents.date,
        blocks=tuple(block for part in PARTS for block in part(facts)),
        footer=f"{contents.imprint} · methodology",
    )


def write_methodology(contents: Contents, folder: Path, progress: Progress = silent) -> list[Path]:
    """Write the methodology as PDF, HTML and JSON, and what changed in it since the last release.

    Parameters
    ----------
    folder : of the release's documents.

    Returns
    -------
    The files written: methodology.pdf, methodology.html, methodology.json, changes.html.
    """
    progress("methodology", 0, 4)
    document = methodology_of(contents)
    files = [as_pdf(document, folder / f"{NAME}.pdf")]
    progress("methodology", 1, 4)
    told = json.dumps(as_data(document), ensure_ascii=False, indent=1) + "\n"
    pages = {
        f"{NAME}.html": as_html(document),
        f"{NAME}.json": told,
        "changes.html": as_html(changes_since(contents.previous, document)),
    }
    for name, text in pages.items():
        path = folder / name
        path.write_bytes(text.encode())
        files.append(path)
    progress("methodology", 4, 4)
    return files
