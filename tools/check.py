"""Check everything that is not a number: format, lint, types, the house, the documentation.

Called by `python3 start.py check`. Each step runs whether or not the one before it failed; the end lists what
failed and how to see it alone.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CODE = [name for name in ("src", "tests", "tools", "benchmarks", "start.py") if (ROOT / name).exists()]
HOUSE = ("test_house.py", "test_start.py")
DOCUMENTATION = ("test_documentation.py", "test_docstrings.py")

STEPS: dict[str, tuple[str, ...]] = {
    "format": ("ruff", "format", "--check", "--output-format", "concise", *CODE),
    "lint": ("ruff", "check", "--output-format", "concise", *CODE),
    "types": ("mypy",),
    "types of the start and the tools": ("mypy", "start.py", "tools"),
    "house": ("pytest", *(f"tests/house/{name}" for name in HOUSE)),
    "documentation": ("pytest", *(f"tests/house/{name}" for name in DOCUMENTATION)),
}


def main() -> int:
    """Run all steps; exit 0 when none failed, else 1."""
    failed = []
    for name, words in STEPS.items():
        print(f"-- {name}", flush=True)
        if subprocess.call([sys.executable, "-W", "error", "-m", *words], cwd=ROOT):
            failed.append(f"   {name}: python -m {' '.join(words)}")
    if failed:
        print("-- failed", *failed, sep="\n")
        return 1
    print("-- all checks passed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
