"""What is told of a logger's file: the run table's row before names and `--as`, these before the file itself."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.lab.book import Placed


@dataclass(frozen=True)
class HeatRun:
    """A logger's file with all that is told of it.

    Parameters
    ----------
    placed : with its place in the lab. is_bath : whether all probes stood in one bath.
    logger : name of its clock, "" where nobody told. offset : to be added to its times [s], None where untold.
    session : files that are told to make one run, or "". moment : of its first row, ISO 8601 by its own clock;
    "" where the file tells no time of day. ended : of its last row, "" where that isn't known.
    coolant_filled : the day, ISO 8601, or "".
    """

    placed: Placed
    is_bath: bool = False
    logger: str = ""
    offset: float | None = None
    session: str = ""
    moment: str = ""
    ended: str = ""
    coolant_filled: str = ""

    @property
    def names_fan(self) -> bool:
        """Whether the file belongs to a fan; a log of the rig's whole day does not."""
        return bool(self.placed.fan)
