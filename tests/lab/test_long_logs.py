"""A logger's file is refused at its first readings too many, however long it is."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from stillroom import errors
from stillroom.lab.intake.intake import bring_in
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@pytest.mark.parametrize("rows", [25_000, 600_000])
def test_a_log_is_refused_soon(rows: int, tmp_path: Path) -> None:
    folder.make(tmp_path / "lab", template("Logs"))
    log = tmp_path / "fan-07_60pct.csv"
    line = "36.00,40.50,1200\n37.00,39.50,1201\n"
    log.write_text("flow [m3/h],p_s [Pa],n [rpm]\n" + line * (rows // 2))
    begun = time.process_time()
    with Lab(tmp_path / "lab") as lab, pytest.raises(errors.BadInput, match="average the log"):
        bring_in(lab, [log], {})
    assert time.process_time() - begun < 10
