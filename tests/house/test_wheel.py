"""A wheel builds from the tree without a network, holds what it must, and runs from where it is unpacked."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "stillroom"

BUILD = "import sys, uv_build; uv_build.build_wheel(sys.argv[1])"
# Isolated, so that neither the tree nor its environment's link to it can stand in for the wheel.
LOOK = """
import sys
sys.path = [sys.argv[1], *(each for each in sys.path if not each.endswith("src"))]
import importlib.metadata, stillroom, stillroom.vocabulary
(entry,) = importlib.metadata.distribution("stillroom").entry_points.select(group="console_scripts")
print(stillroom.__file__, entry.name, entry.value, sep="\\n")
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    tree = tmp_path_factory.mktemp("tree")
    shutil.copytree(SOURCE, tree / "src" / "stillroom", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, tree)
    (tree / "dist").mkdir()
    path = os.pathsep.join([sysconfig.get_path("scripts"), os.environ.get("PATH", "")])
    subprocess.run(
        [sys.executable, "-c", BUILD, str(tree / "dist")],
        cwd=tree,
        env={**os.environ, "PATH": path},
        check=True,
        stdin=subprocess.DEVNULL,
    )
    (built,) = (tree / "dist").glob("stillroom-*-py3-none-any.whl")
    return built


def test_the_wheel_holds_all_that_the_package_is_made_of(wheel: Path) -> None:
    kept = {name for name in zipfile.ZipFile(wheel).namelist() if not name.endswith("/")}
    there = {
        f"stillroom/{path.relative_to(SOURCE).as_posix()}"
        for path in SOURCE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert sorted(there - kept) == []
    assert "stillroom/py.typed" in kept
    assert any(name.startswith("stillroom/charts/fonts/") and name.endswith(".ttf") for name in kept)
    assert any(name.endswith("dist-info/licenses/LICENSE") for name in kept)
    assert not any("tests" in Path(name).parts for name in kept)


def test_the_package_runs_from_the_wheel(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path)
    done = subprocess.run(
        [sys.executable, "-I", "-c", LOOK, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
    )
    file, name, value = done.stdout.splitlines()
    assert Path(file).is_relative_to(tmp_path)
    assert (name, value) == ("stillroom", "stillroom.cli:main")
