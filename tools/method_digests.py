"""Digests of the sources of each method, so that changed code raises its version or declares "same numbers".

    .venv-test/bin/python tools/method_digests.py            # says which methods changed since they were declared
    .venv-test/bin/python tools/method_digests.py --declare  # after raising a version, or: the numbers are the same

A digest is taken of the code without comments and docstrings.
"""

from __future__ import annotations

import ast
import hashlib
import io
import json
import sys
import tokenize
from pathlib import Path

from stillroom.compare.standing import SCHEMA
from stillroom.core import bridging, shift
from stillroom.lab.eras import reference
from stillroom.measures import MEASURES
from stillroom.methods.airflow import mounting, obstacle
from stillroom.methods.control import versions as control
from stillroom.methods.heat import versions as heat
from stillroom.methods.sound import versions as sound
from stillroom.quality import VERSION as FINDINGS_VERSION
from stillroom.readers.reading.recording import READER_VERSION

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "stillroom"
DECLARED = ROOT / "tests" / "reference" / "method-digests.json"

POINTS = ("methods/airflow/chain.py", "methods/airflow/bench.py", "methods/airflow/points.py", "core/standards",
          "core/fanlaws.py", "core/draws.py")  # fmt: skip

HEARD_IN = ("analysis", "fast_levels", "frames", "integrity", "levels", "spectra", "spectrogram", "transients",
            "weighting")  # fmt: skip
LIMITED_BY = ("fan_levels", "limit", "placing")
SOUND_FILES = {each.stem for each in (SOURCE / "core" / "sound").glob("*.py")} - {"__init__"}

HEARD = ("methods/sound/recording.py", "methods/sound/tables.py", *(f"core/sound/{each}.py" for each in HEARD_IN),
         "core/standards/iec_61260_1_2014.py", "core/standards/iec_61672_1_2013.py")  # fmt: skip
MOUNTED = (
    "methods/sound", *(f"core/sound/{each}.py" for each in sorted(SOUND_FILES - {*HEARD_IN, *LIMITED_BY})),
    "core/draws.py", "core/standards/din_45692_2009.py", "core/standards/ecma_418_1_2024.py",
    "core/standards/iso_3744_2010.py", "core/standards/iso_532_1_2017",
)  # fmt: skip

TIED_BY = ("core/heat/flow_law.py", "methods/heat/law.py", "lab/heat/laws.py")
HEATED = tuple(
    each.relative_to(SOURCE).as_posix()
    for room in ("methods/heat", "core/heat")
    for each in sorted((SOURCE / room).glob("*.py"))
    if each.stem not in {"law", "flow_law", "law_disagreements", "running"}
)

METHODS: dict[str, tuple[str, tuple[str, ...]]] = {
    "reader": (str(READER_VERSION), ("readers",)),
    "airflow mounting": (
        str(mounting.VERSION),
        (*POINTS, "methods/airflow/mounting.py", "core/mounted.py", "core/characteristic"),
    ),
    "airflow obstacle": (
        str(obstacle.VERSION),
        (*POINTS, "methods/airflow/obstacle.py", "core/resistance.py"),
    ),
    "sound recording": (str(sound.RECORDING), HEARD),
    "sound mounting": (str(sound.MOUNTING), MOUNTED),
    "heat mounting": (str(heat.MOUNTING), (*HEATED, "core/draws.py")),
    "heat law": (str(heat.LAW), TIED_BY),
    "measures": (
        ", ".join(f"{each.name} {each.version}" for each in MEASURES),
        ("measures", "core/operating.py", "core/mounted.py"),
    ),
    "standings": (
        SCHEMA,
        (
            "compare",
            "core/multiple.py",
            "core/combine.py",
            "core/spread.py",
            "core/settling.py",
            "core/intervals.py",
        ),
    ),
    "findings": (str(FINDINGS_VERSION), ("quality", "core/deviation.py")),
    "bridge": (str(bridging.VERSION), ("core/bridging.py",)),
    "bridge by difference": (str(shift.VERSION), ("core/shift.py", "core/bridging.py", "lab/eras/along.py")),
    "control mounting": (
        str(control.MOUNTING),
        ("methods/control", "core/control", "core/standards/pwm_fans_4_wire.py"),
    ),
    "reference check": (
        str(reference.VERSION),
        ("lab/eras/reference.py", "lab/eras/check_ways.py", "lab/eras/along.py", "core/control_chart.py"),
    ),
}
"""{method: (its version, the files and folders that its numbers come from)}."""


def bare(source: str) -> str:
    """A source's lines without comments, docstrings, blank lines and blanks at their ends.

    Taken from the text, not from the syntax tree, which each Python writes in its own way.
    """
    lines = source.splitlines()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.COMMENT:
            row, column = token.start
            lines[row - 1] = lines[row - 1][:column]
    for node in ast.walk(ast.parse(source)):
        for each in getattr(node, "body", ()) if isinstance(getattr(node, "body", None), list) else ():
            if _is_text(each):
                lines[each.lineno - 1 : each.end_lineno] = [""] * (each.end_lineno - each.lineno + 1)
    return "\n".join(line.rstrip() for line in lines if line.strip())


def _is_text(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def digest(places: tuple[str, ...]) -> str:
    """The digest of the files and folders of a method."""
    files = [each for place in places for each in _files(SOURCE / place)]
    text = "\n".join(
        f"{each.relative_to(SOURCE).as_posix()}\n{bare(each.read_text('utf-8'))}" for each in files
    )
    return hashlib.sha256(text.encode()).hexdigest()


def _files(place: Path) -> list[Path]:
    return [place] if place.is_file() else sorted(place.rglob("*.py"))


def now() -> dict[str, dict[str, str]]:
    """Version and digest of each method as the code stands."""
    return {
        name: {"version": version, "digest": digest(places)} for name, (version, places) in METHODS.items()
    }


def main(words: list[str]) -> int:
    """Declare the methods as they are, or say which have changed."""
    if words == ["--declare"]:
        DECLARED.write_text(json.dumps(now(), indent=1) + "\n", encoding="utf-8")
        return 0
    declared = json.loads(DECLARED.read_text("utf-8"))
    changed = [name for name, each in now().items() if declared.get(name) != each]
    print("changed: " + (", ".join(changed) or "nothing"))
    return 1 if changed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
