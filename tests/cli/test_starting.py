"""The command line starts quickly: only the verb that is named is loaded, and slow packages only by what uses them."""

from __future__ import annotations

import inspect
import subprocess
import sys
from pathlib import Path

import pytest

from stillroom import verbs
from stillroom.cli.main import run
from stillroom.errors import UnknownThing

SLOW = {"polars", "altair", "vl_convert", "fontTools", "python_calamine", "scipy.special", "scipy.optimize",
        "scipy.interpolate", "scipy.stats"}  # fmt: skip


def loaded_after(code: str) -> set[str]:
    """The modules that a fresh interpreter has loaded after some lines of code."""
    lines = f"{code}\nimport sys\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def test_all_verbs_load_without_the_slow_packages() -> None:
    loaded = loaded_after("from stillroom import verbs\nassert verbs.VERBS")
    assert "stillroom.verbs.charting" in loaded
    assert loaded & SLOW == set()


def test_the_help_loads_no_verb_at_all() -> None:
    loaded = loaded_after("from stillroom.cli.main import run\nrun(['--help'])")
    rooms = {each for each in loaded if each.startswith(("stillroom.lab", "stillroom.core", "numpy"))}
    assert "stillroom.verbs" in loaded
    assert rooms == set()


def test_a_new_lab_is_made_without_the_rest_of_the_program(tmp_path: Path) -> None:
    loaded = loaded_after(f"from stillroom.cli.main import run\nrun(['new', {str(tmp_path / 'lab')!r}])")
    assert "stillroom.store.folder" in loaded
    assert loaded & {"scipy", "stillroom.lab.book", *SLOW} == set()


@pytest.mark.parametrize("name", verbs.LISTED)
def test_a_verb_is_listed_as_its_docstring_begins(name: str) -> None:
    verb = verbs.loaded(name)
    words = " ".join((inspect.getdoc(verb) or "").split())
    assert verb.__name__ == name.replace("-", "_")
    assert words.startswith(verbs.LISTED[name].summary)
    assert getattr(verbs, verb.__name__) is verb


def test_all_verbs_are_listed_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    out = capsys.readouterr().out
    assert all(name in out for name in verbs.LISTED)


def test_a_note_may_name_a_rig_that_runs_use_and_says_what_to_do_without(tmp_path: Path) -> None:
    verbs.new(tmp_path / "lab")
    with pytest.raises(UnknownThing, match=r"docs/rigs\.md"):
        verbs.note("swap", rig="chamber", lab=tmp_path / "lab")
    rows = "".join(f"{20 * q},{40 - q * q:.1f},1500\n" for q in range(6))
    (tmp_path / "a.csv").write_text(
        f"Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n{rows}", encoding="utf-8"
    )
    told = ("fan=Sedge", "rig=chamber")
    verbs.add(tmp_path / "a.csv", as_=told, no_check=True, lab=tmp_path / "lab")
    assert verbs.note("swap", rig="chamber", lab=tmp_path / "lab").data["event"]["rig"] == "chamber"
