"""What the reader's page looks up, for 500 fans: bytes, seconds to work out a fan, milliseconds to answer.

Fans are made from the demo lab's by moving their tables a little. Run: `python benchmarks/estimate.py`; needs node.
"""

from __future__ import annotations

import gzip
import json
import shutil
import subprocess
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from stillroom.core.draws import Stream
from stillroom.lab.whole import worked_out
from stillroom.publish.contents import Contents
from stillroom.publish.estimate import gathering, writing
from stillroom.publish.estimate.gathering import FanTables, Gathered
from stillroom.publish.estimate.writing import estimate_of
from stillroom.store.lab import Lab
from stillroom.verbs import demo

FANS, A_DAY = 500, 6
MOST_BYTES, MOST_MS, MOST_OPEN = 450_000, 16.0, 200.0

TIMED = """
const fs = require("fs"), vm = require("vm");
const [folder, data] = process.argv.slice(2);
globalThis.window = {};
const scripts = ["columns", "lookup", "estimate"].map((each) => fs.readFileSync(`${folder}/${each}.js`, "utf8"));
vm.runInThisContext(fs.readFileSync(data, "utf8"));
vm.runInThisContext(`${scripts.join(String.fromCharCode(10))}; globalThis.opener = StillroomEstimate.open;`);
const start = performance.now();
const est = opener(window.stillroomData);
const opened = performance.now() - start;
const first = performance.now();
est.rank({ obstacle: "rad27", limit: 30 });
const answered = performance.now() - first;
const times = [];
for (let turn = 0; turn < 300; turn++) {
  const asked = performance.now(), fans = 1 + (turn % 3);
  est.rank({ obstacle: "rad27", limit: 24 + (turn % 140) / 10, fans, tiles: fans });
  times.push(performance.now() - asked);
}
times.sort((a, b) => a - b);
console.log(JSON.stringify({ opened, answered, median: times[150], most: times[285] }));
"""


def main() -> None:
    """Measure, print, and fail where a figure is missed."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        demo(place / "lab")
        with Lab(place / "lab") as lab:
            whole = worked_out(lab)
            contents = Contents(whole, "benchmark", "2026-01-01", "", "", (), (), (), ())
            start = time.perf_counter()
            found = gathering.gathered(whole)
            fans = len(found.fans)
            print(f"worked out: {(time.perf_counter() - start) / fans:.2f} s a fan ({fans} fans)")
            many = _many(found)
            writing.gathered = lambda *_: many  # type: ignore[assignment]
            script = estimate_of(contents).script
        data = place / "data.js"
        data.write_text(script, encoding="utf-8")
        size, short = len(script.encode()), len(gzip.compress(script.encode(), 9))
        print(f"{FANS} fans: {size:,} bytes, compressed {short:,} ({short / FANS:.0f} a fan)")
        times = _timed(place, data)
    print(", ".join(f"{name} {value:.1f}" for name, value in times.items()))
    for name, value, most in (
        ("bytes compressed", short, MOST_BYTES),
        ("ms an answer, 95 %", times["most"], MOST_MS),
        ("ms to the first answer", times["opened"] + times["answered"], MOST_OPEN),
    ):
        if value > most:
            raise SystemExit(f"{name}: {value:.1f}, at most {most} wanted")


def _timed(place: Path, data: Path) -> dict[str, float]:
    node = shutil.which("node")
    if node is None:
        raise SystemExit("node is missing")
    script = place / "timed.js"
    script.write_text(TIMED, encoding="utf-8")
    files = Path(writing.__file__).parents[1] / "page" / "files"
    done = subprocess.run([node, script, files, data], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _many(found: Gathered) -> Gathered:
    """Fans like those there, each moved by some per cent, six to a day of the quiet room."""
    draws = Stream("benchmark").normal(FANS * 200).reshape(FANS, 200)
    fans = [_moved(found.fans[at % len(found.fans)], at, draws[at]) for at in range(FANS)]
    return replace(found, fans=tuple(sorted(fans, key=lambda each: each.fan)))


def _moved(fan: FanTables, at: int, draw: np.ndarray) -> FanTables:  # type: ignore[type-arg]
    airflow = {}
    for way, each in fan.airflow.items():
        table = each.table
        bend = 1.0 + 0.01 * draw[0] * np.sin(np.linspace(0.0, 3.0 + abs(draw[1]), len(table.factor)))[:, None]
        noise = np.exp(0.05 * draw[8 : 8 + len(table.sd)])
        moved = replace(
            table,
            flow_scale=table.flow_scale * (1.0 + 0.05 * draw[2]),
            pressure_scale=table.pressure_scale * (1.0 + 0.08 * draw[3]),
            factor=table.factor * bend,
            exponent=table.exponent * (1.0 + 0.1 * draw[4]),
            loadings=table.loadings * (1.0 + 0.05 * draw[5]) + 1e-5 * draw[60 : 60 + table.loadings.shape[1], None],
            sd=table.sd * noise, down=table.down * noise, up=table.up * noise,
        )  # fmt: skip
        airflow[way] = replace(each, table=moved)
    sound = {}
    for way, each in fan.sound.items():
        factor = 1.0 + 0.04 * draw[6]
        wider = np.exp(0.05 * draw[100 : 100 + len(each.limits)])
        day = f"{at // A_DAY}"
        sound[way] = replace(
            each,
            limits=each.limits + 0.8 * draw[7],
            speed=each.speed * factor,
            low=each.speed * factor * (each.low / each.speed) ** wider,
            high=each.speed * factor * (each.high / each.speed) ** wider,
            sd=each.sd * wider,
            own=np.clip(each.own * wider, 0.0, 1.0),
            sources=tuple(
                f"{name}/{day}" if name.startswith(("day", "calibration")) else name for name in each.sources
            ),
        )
    return replace(fan, fan=f"{fan.fan} {at:03d}", airflow=airflow, sound=sound)


if __name__ == "__main__":
    main()
