"""Write the pages of the documentation that the code itself can tell: quantities and units, errors.

    .venv-test/bin/python tools/write_docs.py

A test holds the pages against what this writes, so a new quantity or error can't be forgotten.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable, Iterable
from pathlib import Path

from stillroom import errors, vocabulary

DOCS = Path(__file__).resolve().parent.parent / "docs"


def table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    """A Markdown table."""
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines)


def quantities_page() -> str:
    """Each quantity and each unit, once."""
    quantities = (
        (
            f"`{each.name}`",
            each.label,
            each.symbol,
            each.unit,
            each.shown or each.unit,
            ", ".join(each.aliases),
        )
        for each in vocabulary.QUANTITIES
    )
    units = (
        (each.symbol, each.dimension, f"{each.factor:.10g}", f"{each.offset:.10g}", ", ".join(each.aliases))
        for each in vocabulary.UNITS
    )
    return f"""# Quantities and units

This page is written by `tools/write_docs.py` from `stillroom/vocabulary.py`.

## Quantities

Inside Stillroom, and in JSON, a number is always in the SI unit. Tables and charts show the unit of the fifth
column unless the lab chooses another. The words of the last column are understood in the header of an export,
in any case and with dots, dashes or underlines for blanks; so is the name itself.

{table(("Name", "Label", "Symbol", "SI unit", "Shown in", "Words in exports"), quantities)}

## Units

Value in SI = value × factor + offset. A unit that is not here is never guessed: the file is refused with the
place where the unit stands.

{table(("Unit", "Dimension", "Factor", "Offset", "Also written"), units)}
"""


def error_classes(root: type[errors.StillroomError]) -> list[type[errors.StillroomError]]:
    """A class of errors and all below it, in the order in which they are written down."""
    return [root, *(kind for child in root.__subclasses__() for kind in error_classes(child))]


def errors_page() -> str:
    """The tree of errors and what each kind means."""
    tree = (errors.__doc__ or "").partition("\n")[2].strip("\n")
    drawing, _, words = tree.partition("\n\n")
    kinds = (
        (f"`{kind.__name__}`", f"`{kind.__base__.__name__}`" if kind.__base__ else "", meaning(kind))
        for kind in error_classes(errors.StillroomError)
        if kind.__module__ == errors.__name__
    )
    return f"""# Errors

This page is written by `tools/write_docs.py` from `stillroom/errors.py`.

{words}

With `--json` the same four are printed as `{{"error": {{"thing", "place", "found", "expected"}}}}`.

```
{textwrap.dedent(drawing)}
```

{table(("Error", "A kind of", "Meaning"), kinds)}
"""


def meaning(kind: type) -> str:
    """The first line of a class's documentation."""
    return (kind.__doc__ or "").strip().splitlines()[0]


PAGES: dict[str, Callable[[], str]] = {"quantities.md": quantities_page, "errors.md": errors_page}


def main() -> int:
    """Write the pages."""
    DOCS.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
