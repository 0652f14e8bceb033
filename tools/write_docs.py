"""Write the pages of the documentation that the code itself can tell: verbs, measures, tables, quantities …

    .venv-test/bin/python tools/write_docs.py

A test holds the pages against what this writes, so a new quantity or error can't be forgotten.
"""

from __future__ import annotations

import inspect
import sys
import textwrap
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from stillroom import errors, verbs, vocabulary
from stillroom.compare.candidates import Margin, MarginKind
from stillroom.lab.ranking_words import margin_words
from stillroom.measures import MEASURES, Measure
from stillroom.quality import RULES
from stillroom.quality.causes import CATALOGUE
from stillroom.readers.registers import rigs
from stillroom.records.fields import columns
from stillroom.records.kinds import TABLES
from stillroom.records.limits import all_told
from stillroom.records.settings import MARGINS, TEMPLATE
from stillroom.verbs.options import Option, options_of

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

This page is written by `tools/write_docs.py` from `stillroom/vocabulary/`.

## Quantities

Inside Stillroom a number is always in the SI unit; where JSON gives another, its unit stands beside it.
Tables and charts show the unit of the fifth column unless the lab chooses another. The words of the last column
are understood in the header of an export, in any case and with dots, dashes or underlines for blanks; so is the
name itself.

{table(("Name", "Label", "Symbol", "SI unit", "Shown in", "Words in exports"), quantities)}

## Units

Value in SI = value × factor + offset. A unit that is not here is never guessed: the file is refused with the
place where the unit stands.

{table(("Unit", "Dimension", "Factor", "Offset", "Also written"), units)}
"""


def verbs_page() -> str:
    """Each verb with its options."""
    parts = "\n".join(verb_words(each) for each in verbs.VERBS)
    return f"""# Verbs

This page is written by `tools/write_docs.py` from the signatures in `stillroom/verbs/`.

Every verb also takes `--json` (the answer as data; errors as `{{"error": {{…}}}}`) and `--help`. Exit codes:
0 done, 1 findings that block, 2 bad input, 3 our fault. From Python the verbs are functions of the same names:
`from stillroom.verbs import rank`; each returns its words, tables, data and exit code. The options `--speed` to `--air`
of rank, chart and ask are the fields of one record there: `rank(through="rad27", conditions=Conditions(duty="40 %"))`.

{parts}"""


def verb_words(verb: Callable[..., object]) -> str:
    """One verb: how it is called, what it does, what each part means."""
    name = verb.__name__.replace("_", "-")
    summary = (inspect.getdoc(verb) or "").partition("\n\n")[0]
    options = options_of(verb)
    call = " ".join(called(each) for each in options)
    rows = [(f"`{each.written}`", each.meaning) for each in options]
    return f"## `stillroom {name}`\n\n    stillroom {name} {call}\n\n{' '.join(summary.split())}\n\n" + (
        table(("Part", "Meaning"), rows) + "\n"
    )


def called(option: Option) -> str:
    """An option in the line that shows how a verb is called."""
    if option.parameter.kind is inspect.Parameter.VAR_POSITIONAL:
        return f"{option.written} …"
    required = option.parameter.default is inspect.Parameter.empty
    return option.written if required else f"[{option.written}]"


def measures_page() -> str:
    """Each measure with its definition."""
    rows = (
        (f"`{each.name}`", each.title, each.definition, str(each.version), each.merit.value)
        for each in MEASURES
    )
    return f"""# Measures

This page is written by `tools/write_docs.py` from `stillroom/measures/`.

A measure is a named, versioned definition that is applied to a fan's characteristic: at full setting (the speed that
the fan itself had at its greatest setting, at that operating point), at a duty or voltage likewise, or at a given speed
inside the range that was tested. All of them stand at 1.2 kg/m³ unless another altitude or temperature is asked for;
[asking.md](asking.md) tells of conditions and systems. The measures at an operating point need `--through`.

{table(("Name", "Title", "Definition", "Version", "Better"), rows)}
"""


def findings_page() -> str:
    """Each rule of quality, and the catalogue of causes that are known by a ratio."""
    rules = (
        (str(each.number), f"`{each.name}`", each.title, each.limit, each.severity.words, each.source)
        for each in RULES
    )
    limits = ((f"`{each.name}`", str(each.rule), each.words, each.text(each.usual)) for each in all_told())
    causes = ((each.quantity, f"{each.ratio:.4g}", each.words, each.test) for each in CATALOGUE)
    return f"""# Findings

This page is written by `tools/write_docs.py` from `stillroom/quality/`.

A finding says which rule, which run, mounting or fan, what was read, what would be right, the probable cause, and a
test at the rig that takes a minute. `stillroom review` lists those that nobody has decided, by consequence;
`stillroom decide` accepts, repeats or excludes, with a reason and a name. Findings never change data.

An open finding that blocks keeps a number from publication: the number is worked out and shown all the same, with the
mark "open finding" beside it, and no spread between mountings or samples is taken from it. `rank` names the fans that
are blocked. `review` exits with 1 while anything blocks, `add` where a check of what came in says stop; `rank`, `ask`,
`chart` and `today` exit with 0, so a script that publishes asks `review` first.

- What is only absent marks a number; what contradicts itself blocks it. Where a rule "blocks" here and what was found
  may be chance or absence, the finding marks.
- A sweep that the fit has left out already is found all the same, but blocks nothing: its numbers go nowhere.
- A decision belongs to the data that were judged. When they change (a corrected calibration, another nozzle), the
  finding comes back with a new name and has to be decided again.
- "Repeat" keeps a number blocked; "accept" and "exclude" release it. Exclusions are counted for each maker.

## Rules

Each limit is the larger of the stated one and what the uncertainty of the readings allows to be told.

{table(("No.", "Rule", "What", "Limit", "Usually", "Source"), rules)}

## Limits

A lab may set its own in the table `[limits]` of `lab.toml`; shares are numbers between 0 and 1. A limit that was
changed is told beside each finding of its rule.

{table(("Limit", "Rule", "What", "Usually"), limits)}

## Causes known by their ratio

A ratio (number written over number that was there) within 3 % of one of these names its cause. Beside these the
program tries a plugged, unlisted, exchanged or wrongly bored nozzle, a leak, a pressure zero that is off or moved, and
a speed that drifted, and tells the one that leaves the least misfit. A fan that has nothing to be held against yet is
held against the flow and pressure coefficients that axial fans have.

{table(("Quantity", "Ratio", "Cause", "One-minute test"), causes)}
"""


def tables_page() -> str:
    """Each table that a lab may bring in, and its settings."""
    parts = "\n".join(table_words(each) for each in TABLES)
    margins = ", ".join(f"{each.name} {usual_margin(each)}" for each in MEASURES)
    return f"""# Tables and settings of a lab

This page is written by `tools/write_docs.py` from `stillroom/records/`.

A table is a CSV, TSV or XLSX file whose headers are the words below, with the unit in brackets where there is one;
columns in italics may be left out. Which table it is follows from its headers. A row replaces the row of the same
name from before; both stay in the journal.

{parts}
## lab.toml

```toml
{TEMPLATE.format(name='"The name of the laboratory"').strip()}
```

Practical margins unless the lab sets its own: {margins}.
"""


def usual_margin(measure: Measure) -> str:
    """The practical margin of a measure unless a lab sets its own."""
    kind = MarginKind.ABSOLUTE if measure.absolute else MarginKind.RELATIVE
    return margin_words(Margin(MARGINS[measure.name], kind), measure.spread_unit)


def table_words(record: type[Any]) -> str:
    """One table of a lab."""
    cells = []
    for each in columns(record):
        words = each.header + (f" [{each.shown}]" if each.shown not in ("", "1") else "")
        cells.append(f"`{words}`" if each.required else f"*`{words}`*")
    return f"## {record.kind}\n\n{meaning(record)}\n\n{', '.join(cells)}\n"


def rigs_page() -> str:
    """How a file of rigs, instruments and nozzles looks."""
    _, _, words = (rigs.__doc__ or "").partition("\n\n")
    example, _, rest = words.rpartition("\n\n")
    roles = ", ".join(f"`{each}`" for each in rigs.ROLES)
    return f"""# Rigs, instruments, calibrations and nozzles

This page is written by `tools/write_docs.py` from `stillroom/readers/registers/rigs.py`.

A rigs file is TOML and is brought in with `stillroom add rigs.toml`; adding a changed one later is a correction: only
what hangs on the changed entry is worked out anew. An instrument that has no calibration may have one line of
accuracy; limits of error without a distribution are taken as rectangular. A calibration says how the instrument
reads: reading = gain · true + offset.

```toml
{textwrap.dedent(example).strip()}
```

{rest.strip()}

Roles: {roles}. Arrangements: `outlet chamber` (the fan blows into the chamber, the nozzles follow), which is taken
where a rig has nozzles, and `flow and pressure only`.
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


PAGES: dict[str, Callable[[], str]] = {
    "verbs.md": verbs_page,
    "measures.md": measures_page,
    "findings.md": findings_page,
    "tables.md": tables_page,
    "rigs.md": rigs_page,
    "quantities.md": quantities_page,
    "errors.md": errors_page,
}


def main() -> int:
    """Write the pages."""
    DOCS.mkdir(exist_ok=True)
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8", newline="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
