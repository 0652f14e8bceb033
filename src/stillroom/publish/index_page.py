"""The way into a release for an editor: what is here, and what it says first."""

from __future__ import annotations

import json
from pathlib import Path

from stillroom import wording
from stillroom.lab.pictures.pictures import ranking_words
from stillroom.lab.registering import NOT_REGISTERED
from stillroom.publish.contents import Contents, Published
from stillroom.publish.document import (
    Block,
    Bullets,
    Callout,
    CalloutKind,
    Document,
    Grid,
    Heading,
    Paragraph,
    Span,
    link,
)
from stillroom.publish.document.as_html import as_html

PLACES = (
    ("page/index.html", "The reader's page: readers set their own noise limit and obstacle"),
    ("documents/review.pdf", "The review"),
    ("documents/fans.html", "A card of one page for each fan"),
    ("documents/account.html", "The account: each finding in a sentence"),
    ("documents/methodology.html", "The methodology (documents/methodology.pdf is the same)"),
    ("documents/changes.html", "What changed in the methodology since the last release"),
    ("documents/correction.html", "What was corrected, old beside new"),
    ("standings/standings.xlsx", "All standings as a workbook; beside it each as CSV and JSON"),
    ("data/datapackage.json", "The open data, with a description of every column"),
    ("charts/charts.json", "The list of all charts, with their words"),
)
"""What a release holds, for one who opens it; places that it lacks aren't shown."""

ALWAYS = (("manifest.json", "Every file of the release with its hash"),)
"""What is written after this page, and so isn't there yet."""

CHARTS = "Each with its alt text and its data; beside it as PNG and SVG, by layout and light or dark"


def write_index(contents: Contents, folder: Path) -> list[Path]:
    """Write index.html over what is in a release's folder."""
    place = folder / "index.html"
    place.write_text(as_html(_document(contents, folder)), encoding="utf-8", newline="\n")
    return [place]


def _document(contents: Contents, folder: Path) -> Document:
    blocks: list[Block] = [Paragraph(contents.question)] if contents.question else []
    if contents.corrects:
        blocks.append(Callout(CalloutKind.NOTE, contents.corrects_words))
    blocks += [Heading(1, "What it says"), Bullets(tuple(_finding(each) for each in contents.published))]
    here = [(place, words) for place, words in PLACES if (folder / place).is_file()]
    here += ALWAYS
    blocks += [
        Heading(1, "What is here"),
        Bullets(tuple((link(place, place), Span(f": {words}.")) for place, words in here)),
    ]
    blocks += _charts(folder)
    blocks += _accepted(contents)
    blocks += [Heading(1, "Measures"), _measures(contents)]
    return Document(
        title=f"Release {contents.name}",
        subtitle=contents.settings.name,
        date=contents.date,
        blocks=tuple(blocks),
        footer=contents.imprint,
    )


def _finding(each: Published) -> str:
    return ranking_words(each.ranking, each.measure)


def _charts(folder: Path) -> list[Block]:
    """A link to each chart's own page, under the chart's finding."""
    place = folder / "charts" / "charts.json"
    if not place.is_file():
        return []
    charts = json.loads(place.read_text(encoding="utf-8"))["charts"]
    named = [(f"charts/{each['name']}.html", each["title"]) for each in charts]
    linked = tuple(
        (link(page, page), Span(f": {words}.")) for page, words in named if (folder / page).is_file()
    )
    video = (folder / "charts" / "reveal").is_dir()
    return [
        Heading(1, "Charts"),
        Paragraph(f"{CHARTS}; for video in charts/reveal." if video else f"{CHARTS}."),
        Bullets(linked),
    ]


def _accepted(contents: Contents) -> list[Block]:
    """The findings that a person accepted, with the reasons."""
    if not contents.accepted:
        return []
    said = [
        f"Rule {each.rule}, {each.subject}: {each.reason} ({each.by}, {each.time[:10]})."
        for each in contents.accepted
    ]
    return [
        Heading(1, "Findings that were accepted"),
        *(Callout(CalloutKind.ACCEPTED, each) for each in said),
    ]


def _measures(contents: Contents) -> Grid:
    rows = tuple(
        (
            each.title,
            wording.plural(len(each.ranking.standings), "fan"),
            each.registered.words if each.registered else f"{NOT_REGISTERED} in a round",
            f"{each.measure.name} {each.ranking.version}",
        )
        for each in contents.published
    )
    return Grid(("measure", "fans", "registered", "method"), rows, caption="What is published")
