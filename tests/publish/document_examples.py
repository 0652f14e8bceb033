"""Documents that several tests read back."""

from __future__ import annotations

from stillroom.publish.document import (
    Bullets,
    Callout,
    CalloutKind,
    Document,
    Figure,
    Formula,
    Grid,
    Heading,
    PageBreak,
    Paragraph,
    Span,
    code,
    emphasis,
    link,
)

HOSTILE = '#import "x" $x^2$ *b* _i_ @ref \\ <l> `c` [x] // /* {1} ~ --- \'<script>alert(1)</script>'
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="100" viewBox="0 0 200 100">'
    '<title id="a-title">T</title><desc id="a-desc">D</desc>'
    '<defs><clipPath id="cut"><rect width="90" height="90"/></clipPath></defs>'
    '<g clip-path="url(#cut)"><rect id="paper" width="200" height="100" fill="var(--paper)"/></g>'
    '<text x="10" y="50" font-family="Stillroom Sans, sans-serif" font-size="14px" font-weight="600" '
    'fill="var(--ink)">Bilberry 71 m³/h</text></svg>'
)
KEY = "3f9a0b12" * 8


def whole(words: str = "") -> Document:
    """A document with every kind of block, `words` in each place that a lab fills."""
    said = words or "Bilberry"
    return Document(
        title=f"What was done {words}".strip(),
        subtitle=f"Spring round {words}".strip(),
        date="2026-11-26",
        footer=f"Heatherside Fan Laboratory {words}".strip(),
        blocks=(
            Paragraph(
                (
                    Span("Plain, "),
                    emphasis(said),
                    Span(", "),
                    link(f"data of {said}", "../data/fans.csv"),
                    Span(", "),
                    link("outside", "https://example.org/x?a=1&b=2"),
                    Span(", "),
                    link("further down", "#budget"),
                    Span(", "),
                    link("nowhere", "#nothing"),
                    Span(" and "),
                    code(KEY),
                    Span("."),
                )
            ),
            Heading(1, f"Instruments {words}".strip()),
            Bullets((said, (Span("two "), emphasis(said)))),
            Grid(
                ("Instrument", "Uncertainty, Pa"),
                ((said, "0.25"), ((code("K7"),), "−1.5")),
                right=(1,),
                caption=f"Gauges {words}".strip(),
                notes=(f"As told: {said}",),
            ),
            Heading(2, "Formulas"),
            Formula(
                "Δp = a q + b q²",
                f"delta p equals a times q plus b times q squared {words}".strip(),
                (("Δp", f"pressure drop {words}".strip(), "Pa"), ("q", "airflow", "m³/h")),
                f"ISO 5801:2017 {words}".strip(),
            ),
            Figure(DRAWING, f"Bar chart of {said}", f"Airflow of {said}", DRAWING),
            Figure(DRAWING, "The same again"),
            *(Callout(kind, f"{kind.value} {said}") for kind in CalloutKind),
            PageBreak(),
            Heading(1, "Uncertainty", anchor="budget"),
            Paragraph(said),
        ),
    )
