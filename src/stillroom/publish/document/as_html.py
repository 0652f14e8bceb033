"""A document as one page that works from a file: no script, nothing fetched, its letters and pictures inside."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterator
from pathlib import Path

from stillroom.charts.fonts import FAMILY, REGULAR, STRONG, face
from stillroom.charts.frame import letters
from stillroom.charts.marks import escaped
from stillroom.charts.palette import PALETTES, Theme
from stillroom.errors import BadInput
from stillroom.publish.document.blocks import (
    CONTENTS,
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
    Span,
    Style,
    Text,
    anchors,
    callout_look,
    has_contents,
    plain,
    spans,
)

STYLE = (
    (Path(__file__).parent / "typeset" / "document.css").read_text(encoding="utf-8").replace("FAMILY", FAMILY)
)

WASH = {Theme.LIGHT: "#F1EEE7", Theme.DARK: "#1A212B"}
"""The quiet ground under callouts and keys, by theme."""


def as_html(document: Document) -> str:
    """A document as a page: headings in order, light and dark, for phones and wide screens, printable.

    Its content policy forbids everything but the style and the letters that it carries. Words are escaped; links
    lead where `Span` allows. Same document, same text.
    """
    style = _colours() + _letters(document) + STYLE
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    photos = " img-src data:;" if _has_photo(document) else ""
    policy = (
        f"default-src 'none'; style-src 'sha256-{digest}'; font-src data:;{photos} base-uri 'none';"
        " form-action 'none'"
    )
    names = anchors(document)
    subtitle = f'<p class="subtitle">{escaped(document.subtitle)}</p>' if document.subtitle else ""
    return (
        f'<!doctype html>\n<html lang="{escaped(document.language)}"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{escaped(document.title)}</title><style>{style}</style></head>\n"
        f'<body><a class="skip" href="#_main">To the text</a><main id="_main" tabindex="-1"><header>'
        f"<h1>{escaped(document.title)}</h1>{subtitle}"
        f'<p class="dated"><time datetime="{document.date}">{document.date}</time></p></header>\n'
        f"{_contents(document, names)}{''.join(_blocks(document, names))}</main>\n"
        f"<footer><p>{escaped(document.footer)}</p></footer></body></html>\n"
    )


def _has_photo(document: Document) -> bool:
    """Whether a picture holds a photo, as data inside it."""
    return any(isinstance(each, Figure) and ' href="data:image/' in each.svg for each in document.blocks)


def _colours() -> str:
    """Both palettes; the reader's system chooses, paper is always light."""
    light, dark = (
        ";".join(f"--{name}:{colour}" for name, colour in {**PALETTES[each], "wash": WASH[each]}.items())
        for each in Theme
    )
    return (
        f":root{{color-scheme:light dark;{light}}}"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    )


def _letters(document: Document) -> str:
    """The letters that the document sets, in both weights: which words stand strong isn't worth telling apart."""
    words = f"{document.title}{document.subtitle}{document.footer}{CONTENTS}To the text"
    words += "".join(_words(each) for each in document.blocks)
    return face(REGULAR, words) + face(STRONG, words)


def _words(block: Block) -> str:
    match block:
        case Figure():
            return "".join(letters(block.svg + block.narrow).values()) + block.caption
        case Grid():
            cells = (plain(cell) for row in block.rows for cell in row)
            return "".join((block.caption, *block.headers, *cells, *map(plain, block.notes)))
        case Formula():
            return (
                block.plain
                + block.source
                + "".join(word for each in block.where for word in each)
                + "Source: []"
            )
        case Bullets():
            return "".join(map(plain, block.items))
        case Heading():
            return block.text
        case Paragraph():
            return plain(block.text)
        case Callout():
            return callout_look(block.kind)[0] + plain(block.text)
        case PageBreak():
            return ""


def _contents(document: Document, names: tuple[str, ...]) -> str:
    if not has_contents(document):
        return ""
    headings = [each for each in document.blocks if isinstance(each, Heading)]
    items = "".join(
        f'<li><a href="#{name}">{escaped(each.text)}</a></li>'
        for each, name in zip(headings, names, strict=True)
        if each.level == 1
    )
    return f'<nav aria-labelledby="_contents"><h2 id="_contents">{CONTENTS}</h2><ul>{items}</ul></nav>\n'


def _blocks(document: Document, names: tuple[str, ...]) -> Iterator[str]:
    left = iter(names)
    new_sheet = False
    for number, block in enumerate(document.blocks):
        if isinstance(block, PageBreak):
            new_sheet = True
            continue
        made = _block(block, next(left) if isinstance(block, Heading) else f"_b{number}")
        yield f'<div class="sheet">{made}</div>\n' if new_sheet else f"{made}\n"
        new_sheet = False


def _block(block: Block, name: str) -> str:
    match block:
        case Heading():
            tag = f"h{block.level + 1}"
            return f'<{tag} id="{name}">{escaped(block.text)}</{tag}>'
        case Paragraph():
            return f'<p dir="auto">{_said(block.text)}</p>'
        case Bullets():
            return f"<ul>{''.join(f'<li>{_said(each)}</li>' for each in block.items)}</ul>"
        case Grid():
            return _grid(block)
        case Formula():
            return _formula(block)
        case Figure():
            return _figure(block, name)
        case Callout():
            word, _ = callout_look(block.kind)
            return (
                f'<div class="callout {block.kind.value}" role="note">'
                f"<p><em>{word}:</em> {_said(block.text)}</p></div>"
            )
        case PageBreak():
            return ""


def _said(text: Text) -> str:
    return "".join(map(_span, spans(text)))


_TAGS = {Style.PLAIN: "{}", Style.EMPHASIS: "<em>{}</em>", Style.CODE: "<code>{}</code>"}


def _span(span: Span) -> str:
    words = span.text
    lead, trail = " " * words[:1].isspace(), " " * words[-1:].isspace()
    made = lead + _TAGS[span.style].format(escaped(words)) + trail
    return f'<a href="{escaped(span.link)}">{made}</a>' if span.link else made


def _grid(block: Grid) -> str:
    head = "".join(
        f'<th scope="col"{_number(column in block.right)}>{escaped(each)}</th>'
        for column, each in enumerate(block.headers)
    )
    body = "".join(
        f"<tr>{''.join(_cell(block, column, each) for column, each in enumerate(row))}</tr>"
        for row in block.rows
    )
    label = escaped(block.caption or ", ".join(block.headers))
    caption = f"<caption>{escaped(block.caption)}</caption>" if block.caption else ""
    notes = "".join(f'<p class="notes">{_said(each)}</p>' for each in block.notes)
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{label}"><table>{caption}'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>{notes}"
    )


def _cell(block: Grid, column: int, text: Text) -> str:
    if column == 0 and 0 not in block.right:
        return f'<th scope="row" dir="auto">{_said(text)}</th>'
    return f"<td{_number(column in block.right) or ' dir=' + chr(34) + 'auto' + chr(34)}>{_said(text)}</td>"


def _number(is_number: bool) -> str:
    return ' class="number"' if is_number else ""


def _formula(block: Formula) -> str:
    where = "".join(
        f"<li>{escaped(symbol)}: {escaped(meaning)}{f' [{escaped(unit)}]' if unit else ''}</li>"
        for symbol, meaning, unit in block.where
    )
    source = f'<p class="source">Source: {escaped(block.source)}</p>' if block.source else ""
    return (
        f'<div class="formula"><p class="line" role="math" aria-label="{escaped(block.spoken)}">'
        f"{escaped(block.plain)}</p>{f'<ul>{where}</ul>' if where else ''}{source}</div>"
    )


_ROOT = re.compile(r"^.*?<svg\b[^>]*?(viewBox=\"[\d. ]+\")[^>]*>", re.DOTALL)
_INSIDE = re.compile(r"<style>.*?</style>|<title\b[^>]*>.*?</title>|<desc\b[^>]*>.*?</desc>", re.DOTALL)
_NAME = re.compile(r'(\bid="|url\(#|href="#)')


def _figure(block: Figure, name: str) -> str:
    """A picture inside the page, with another for narrow screens where there is one."""
    caption = f"<figcaption>{escaped(block.caption)}</figcaption>" if block.caption else ""
    if not block.narrow:
        return f"<figure>{_drawing(block.svg, block.alt, name)}{caption}</figure>"
    wide = _drawing(block.svg, block.alt, name, "wide")
    return f"<figure>{wide}{_drawing(block.narrow, block.alt, f'{name}n', 'narrow')}{caption}</figure>"


def _drawing(svg: str, alt: str, name: str, kind: str = "") -> str:
    """A drawing as an element whose names are its own, spoken by its alt text.

    Raises
    ------
    BadInput : it isn't a drawing of the house.
    """
    root = _ROOT.search(svg)
    if root is None:
        raise BadInput("picture", place=alt, found="no viewBox", expected="a drawing of the house")
    inner = _NAME.sub(lambda hit: f"{hit[1]}{name}-", _INSIDE.sub("", svg[root.end() :]).strip())
    style = f' class="{kind}"' if kind else ""
    return f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escaped(alt)}" {root[1]}{style}>{inner}'
