"""All kinds of records, once."""

from __future__ import annotations

from typing import Any

from stillroom.records.acts import Decision, Event, Mounting, Run, SavedLayout, Spread, Step, Taken
from stillroom.records.bench import Calibration, Instrument, Nozzle, Obstacle, Rig
from stillroom.records.products import Claim, Fan, Legacy, Price, Sample
from stillroom.records.publishing import Dispute, Frozen, Photo, Round

TABLES: tuple[type[Any], ...] = (
    *(Fan, Sample, Obstacle, Mounting, Run, Step, Claim, Price, Event, Legacy, Round, Dispute),
)
"""The kinds that a lab may bring in as a table."""

OTHERS: tuple[type[Any], ...] = (
    *(Rig, Instrument, Calibration, Nozzle, Taken, Photo, Decision, Spread, SavedLayout, Frozen),
)
"""The kinds that come from rig files, from measurement files, or from Stillroom's own verbs."""

KINDS: dict[str, type[Any]] = {each.kind: each for each in (*TABLES, *OTHERS)}
