"""What the method of control behaviour is told of each table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.control.starts import Attempt
from stillroom.methods.airflow.chain import Chain

Flags = NDArray[np.bool_]


class Table(Enum):
    """The kinds of tables of control behaviour."""

    STEPS = "steps"
    STARTS = "starts"
    INRUSH = "inrush"


@dataclass(frozen=True)
class Told:
    """One table.

    Parameters
    ----------
    run, key, file : identity, key of its bytes and reading, and file. table : its kind.
    columns : {quantity: values (readings,) [SI]}, NaN where a reading is without.
    falling : what is told of each reading, None where nothing is. open_wire : the control wire is open.
    attempts : of start tests. speed_chain, current_chain : how speed and current are measured.
    setting_kind, setting : of a record of current, as told; "" and None where nobody told. date : of the run.
    pwm_frequency : told beside the run [Hz], None where nobody told. lines : first and last of the file.
    """

    run: str
    key: str
    file: str
    table: Table
    columns: Mapping[str, Array]
    falling: tuple[bool | None, ...]
    open_wire: Flags
    attempts: tuple[Attempt, ...]
    speed_chain: Chain
    current_chain: Chain
    setting_kind: str = ""
    setting: float | None = None
    date: str = ""
    pwm_frequency: float | None = None
    lines: tuple[int, int] = (0, 0)

    @property
    def size(self) -> int:
        """How many readings there are."""
        return len(self.open_wire)
