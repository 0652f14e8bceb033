"""Versions of program, methods and measures, how a number is followed, and where the data are."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.publish.document import Block, Grid, Heading, Paragraph, Span, code, link
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methods_used import methods_used
from stillroom.records.program import VERSION

TITLE = "Versions, and how to follow a number"

DATA = "../data/datapackage.json"
"""Where the open data are, from this document."""

FOLLOWING = "Numbers to follow"
"""The caption of the table of keys."""

MANIFEST = "../manifest.json"

KEY_DIGITS = 10


def versions_and_following(facts: Facts) -> Iterator[Block]:
    """By which versions this was worked out, and the way from a published number to the bytes."""
    contents = facts.contents
    yield Heading(1, TITLE)
    yield Grid(
        ("What", "Version"),
        (
            ("Stillroom", VERSION),
            *((f"method: {name}", version) for name, version in methods_used(contents.whole.graph).items()),
            *dict.fromkeys(
                (f"measure: {each.ranking.measure}", each.ranking.version) for each in contents.published
            ),
        ),
        right=(1,),
        caption="Versions",
        notes=("A method’s version is raised whenever the same readings would give another number.",),
    )
    yield Heading(2, "Following a number")
    yield Paragraph(
        "Each published number has a key. In the laboratory’s folder the key leads back through fan, mounting and run"
        " to the calibrations in force, and to the lines of the original file with its SHA-256. An example, the first"
        " fan of each measure:"
    )
    first = [(one.title, one.ranking.standings[0]) for one in contents.published if one.ranking.standings]
    yield Grid(
        ("Measure", "Fan", "To be typed"),
        tuple(
            (title, each.fan, (code(f"stillroom trace {each.key[:KEY_DIGITS]}"),)) for title, each in first
        ),
        caption=FOLLOWING,
    )
    yield Heading(2, "Open data")
    yield Paragraph((
        Span("The data of this release, with a description of every column, are in "),
        link("data/datapackage.json", DATA),
        Span("; the hash of every file is in "),
        link("manifest.json", MANIFEST),
        Span("."),
    ))  # fmt: skip
