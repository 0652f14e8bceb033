"""One page that works from a file: the chart, its table and its words, light or dark, wide or narrow.

No script and nothing fetched: the drawings are in the page, and so is their font. The reader's system
chooses light or dark; narrow screens get the phone column.
"""

from __future__ import annotations

from stillroom.charts import frame, marks
from stillroom.charts.cells import Table
from stillroom.charts.fonts import FAMILY, REGULAR, STRONG, face
from stillroom.charts.frame import Sheet

STYLE = """
body{margin:0;background:var(--paper);color:var(--ink);font:400 16px/1.5 'FAMILY',sans-serif}
main{max-width:60rem;margin:0 auto;padding:0 0 3rem}
figure{margin:0}
svg{display:block;width:100%;height:auto}
.phone{display:none}
section{margin:1.5rem 1.25rem 0}
h2{font:600 1.05rem/1.3 'FAMILY',sans-serif;margin:0 0 .4rem}
p{margin:0;max-width:44rem}
summary{cursor:pointer;font-weight:600;padding:.6rem 0}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.95rem}
caption{text-align:left;color:var(--muted);padding:0 0 .5rem}
th,td{text-align:left;font-weight:400;padding:.35rem .9rem .35rem 0;border-bottom:1px solid var(--hairline);
vertical-align:top;overflow-wrap:anywhere;min-width:3.5rem}
td:first-child,th:first-child{min-width:6.5rem}
thead th{font-weight:600;border-bottom-color:var(--axis);overflow-wrap:normal}
.number{text-align:right;white-space:nowrap}
@media (max-width:40rem){.phone{display:block}.article{display:none}}
@media print{details>*{display:block}}
""".replace("FAMILY", FAMILY).strip()


def page(title: str, alt: str, wide: Sheet, narrow: Sheet, table: Table) -> str:
    """The whole page as HTML."""
    drawings = "".join(frame.root(each, extra=f' class="{each.page.name}"') for each in (wide, narrow))
    data = table.as_html("The numbers in the chart, rounded to their uncertainty.")
    is_long = len(table.rows) > 40
    body = (
        f"<main><figure>{drawings}</figure>"
        f"<section><h2>In words</h2><p>{marks.escaped(alt)}</p></section>"
        f"<section><details{'' if is_long else ' open'}><summary>The numbers</summary>"
        f'<div class="scroll" tabindex="0" role="region" aria-label="The numbers">{data}</div>'
        "</details></section></main>"
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'; font-src data:; img-src data:\">"
        f"<title>{marks.escaped(title)}</title>"
        f"<style>{frame.theme_style()}{_faces(wide, narrow, alt, table)}{STYLE}</style></head>"
        f"<body>{body}</body></html>\n"
    )


def _faces(wide: Sheet, narrow: Sheet, alt: str, table: Table) -> str:
    first, second = frame.letters(wide.inner), frame.letters(narrow.inner)
    words = "".join(cell for row in (table.columns, *table.rows) for cell in row)
    regular = (
        first[REGULAR]
        + second[REGULAR]
        + alt
        + words
        + "The numbers in the chart, rounded to their uncertainty."
    )
    strong = first[STRONG] + second[STRONG] + "".join(table.columns) + "In words The numbers"
    return face(REGULAR, regular) + face(STRONG, strong)
