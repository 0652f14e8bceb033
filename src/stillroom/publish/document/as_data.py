"""A document as data for JSON, without its drawings: for the record, and to be compared with another release's."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import TypeAlias

from stillroom.publish.document.blocks import (
    Block,
    Bullets,
    Callout,
    Document,
    Figure,
    Formula,
    Grid,
    Heading,
    PageBreak,
    Paragraph,
    Style,
    Text,
    anchors,
)

SCHEMA = "stillroom/document/1"
"""Name and version of the JSON document; the number rises when a field changes its meaning or goes."""

Json: TypeAlias = str | int | list["Json"] | dict[str, "Json"]


def as_data(document: Document) -> dict[str, Json]:
    """A document as plain values for JSON.

    Returns
    -------
    {schema, title, subtitle, date, language, footer, blocks}. A block is {kind, ...its fields}; a text is a string
    where it is plain, else a list of strings and {text, style, link}; of a picture stand its alt text, its caption and
    the SHA-256 of its drawing.
    """
    names = iter(anchors(document))
    return {
        "schema": SCHEMA,
        "title": document.title,
        "subtitle": document.subtitle,
        "date": document.date,
        "language": document.language,
        "footer": document.footer,
        "blocks": [_block(each, names) for each in document.blocks],
    }


def _said(text: Text) -> Json:
    if isinstance(text, str):
        return text
    return [
        span.text
        if span.style is Style.PLAIN and not span.link
        else {"text": span.text, "style": span.style.value, **({"link": span.link} if span.link else {})}
        for span in text
    ]


def _block(block: Block, names: Iterator[str]) -> dict[str, Json]:
    match block:
        case Heading():
            return {"kind": "heading", "level": block.level, "text": block.text, "anchor": next(names)}
        case Paragraph():
            return {"kind": "paragraph", "text": _said(block.text)}
        case Bullets():
            return {"kind": "bullets", "items": [_said(each) for each in block.items]}
        case Grid():
            return _grid(block)
        case Formula():
            return _formula(block)
        case Figure():
            return _figure(block)
        case Callout():
            return {"kind": "callout", "what": block.kind.value, "text": _said(block.text)}
        case PageBreak():
            return {"kind": "page break"}


def _grid(block: Grid) -> dict[str, Json]:
    return {
        "kind": "grid",
        "caption": block.caption,
        "headers": list(block.headers),
        "rows": [[_said(cell) for cell in row] for row in block.rows],
        "right": list(block.right),
        "notes": [_said(each) for each in block.notes],
    }


def _formula(block: Formula) -> dict[str, Json]:
    return {
        "kind": "formula",
        "plain": block.plain,
        "spoken": block.spoken,
        "where": [
            {"symbol": symbol, "meaning": meaning, "unit": unit} for symbol, meaning, unit in block.where
        ],
        "source": block.source,
    }


def _figure(block: Figure) -> dict[str, Json]:
    digest = hashlib.sha256(block.svg.encode()).hexdigest()
    return {"kind": "figure", "alt": block.alt, "caption": block.caption, "sha256": digest}
