"""Make the three lock files again: boot.lock (uv itself), requirements.lock, requirements-test.lock.

    python3 start.py check && .venv-test/bin/python tools/lock.py [--upgrade]

Without --upgrade the versions that are locked stay as long as pyproject.toml allows them. Every lock holds
for Python 3.11 and later on Linux, macOS and Windows, names wheels only, gives the hash of each file, and
says nothing about where files are fetched from.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
COMPILE = (
    *("pip", "compile", "--quiet", "--no-config", "--universal", "--python-version", "3.11"),
    *("--fork-strategy", "fewest", "--no-build", "--generate-hashes", "--no-emit-index-url"),
    *("--custom-compile-command", "tools/lock.py"),
)


def main(options: list[str]) -> int:
    """Compile the locks one after the other; the test lock keeps to the versions of the first."""
    uv = next(iter(sorted((ROOT / ".boot").glob("uv-*/bin/uv*"))), None)
    if uv is None:
        print("No uv in .boot yet; run python3 start.py check first.", file=sys.stderr)
        return 2

    def lock(*words: str, given: str | None = None) -> None:
        subprocess.run([uv, *COMPILE, *options, *words], cwd=ROOT, input=given, text=True, check=True)

    lock("-", "--no-annotate", "--output-file", "boot.lock", given="uv")
    lock("pyproject.toml", "--output-file", "requirements.lock")
    lock(
        *("pyproject.toml", "--group", "test", "--constraints", "requirements.lock"),
        *("--output-file", "requirements-test.lock"),
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
