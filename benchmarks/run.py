"""All benchmarks in one command: `python benchmarks/run.py [--quick]`, ratios against the named peer in one run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
ALL = (
    "montecarlo.py",
    "budget.py",
    "messy_files.py",
    "findings.py",
    "big_file.py",
    "reduce.py",
    "sound_levels.py",
    "tones.py",
    "heat_logs.py",
    "release.py",
    "chart_pack.py",
)
QUICKER = {
    "reduce.py": ["--quick"],
    "sound_levels.py": ["--quick"],
    "heat_logs.py": ["--quick"],
    "release.py": ["--fans", "10"],
    "findings.py": ["--fans", "10"],
    "big_file.py": ["--size", "50"],
}


def main(words: list[str]) -> int:
    """Run each; the number of those that failed, or missed their aim."""
    failed = 0
    for name in ALL:
        print(f"\n== {name}", flush=True)
        more = QUICKER.get(name, []) if "--quick" in words else []
        failed += subprocess.call([sys.executable, str(HERE / name), *more]) != 0
    return failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
