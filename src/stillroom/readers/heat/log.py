"""A log as it was read: what its clock and its channels tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stillroom.readers.heat.channels import Channel
from stillroom.readers.heat.rising import Gap
from stillroom.readers.heat.stamps import Stamped


@dataclass(frozen=True)
class Log:
    """What is known of a log beside its readings.

    Parameters
    ----------
    stamped : what its times are. begin : of its first reading: ISO 8601 of dates and epochs, the time of the day of
    clocks, "" of times since the start. end : of its last, in the same way. first : the first stamp of times since the
    start [s]; 0 of others. rows : how many rows it has. step : their usual distance [s]. span : from the first to the
    last [s]. repeated, slips, midnights, gaps : as `Rising` has them. channels : {quantity: what is missing in it}.
    averaged : how many rows of the file make one reading; 1 but in very long files. names : {"fan", "sample" …: the
    different words of that column, in their order}.
    """

    stamped: Stamped
    begin: str
    end: str
    rows: int
    step: float
    span: float
    repeated: int = 0
    slips: int = 0
    midnights: int = 0
    gaps: tuple[Gap, ...] = ()
    channels: Mapping[str, Channel] = field(default_factory=dict)
    first: float = 0.0
    averaged: int = 1
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
