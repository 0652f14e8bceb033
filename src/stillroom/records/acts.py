"""What was done: mountings, runs, recordings, events, decisions, and spreads that were agreed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from stillroom.records.fields import told


@dataclass(frozen=True, kw_only=True)
class Mounting:
    """One act of fitting a sample to a rig."""

    kind: ClassVar[str] = "mounting"
    mounting: str = told("mounting", required=True)
    fan: str = told("fan", required=True)
    sample: str = told("sample", required=True)
    rig: str | None = told("rig")
    date: str | None = told("date")
    by: str | None = told("by")

    @property
    def name(self) -> str:
        """The mounting's name."""
        return self.mounting


@dataclass(frozen=True, kw_only=True)
class Run:
    """A row of the run table: which file, or which part of it, is which fan, sample, mounting and setting.

    Of sound: `recording` says what was recorded, in the words of `readers/words/recordings.py`; `channel` counts
    from 1; `microphone` names an instrument; `calibrator` is the level that the calibrator gives; `tachometer` and
    `optical` are readings beside a recording, no settings; `speed_from` and `speed_to` are the ends of a ramp;
    recordings of one `session` belong together. Distance, angle and height tell where the microphone stood, from
    the middle of the fan's hub and its axis; `microphone_side` is "inlet" or "outlet", `holder` what held the fan.

    Of heat: `logger` names the clock that wrote the file, `clock_offset` is added to its times; files of one
    `session` are one run; `coolant_filled` is the day on which the liquid was filled in. `what` is "bath" where all
    probes lay in one bath.
    """

    kind: ClassVar[str] = "run"
    file: str = told("file", required=True)
    part: int | None = told("part")
    rig: str | None = told("rig")
    mounting: str | None = told("mounting")
    fan: str | None = told("fan")
    sample: str | None = told("sample")
    obstacle: str | None = told("obstacle")
    duty: float | None = told("duty", unit="1", shown="%")
    volts: float | None = told("volts", unit="V")
    speed: float | None = told("speed", unit="1/s", shown="rpm")
    zero_before: float | None = told("pressure zero before", unit="Pa")
    zero_after: float | None = told("pressure zero after", unit="Pa")
    warm_up: float | None = told("warm-up", unit="s", shown="min")
    pwm_frequency: float | None = told("PWM frequency", unit="Hz", shown="kHz")
    recording: str | None = told("recording")
    channel: int | None = told("channel")
    microphone: str | None = told("microphone")
    calibrator: float | None = told("calibrator", unit="dB")
    tachometer: float | None = told("tachometer", unit="1/s", shown="rpm")
    optical: float | None = told("optical", unit="1/s", shown="rpm")
    speed_from: float | None = told("speed from", unit="1/s", shown="rpm")
    speed_to: float | None = told("speed to", unit="1/s", shown="rpm")
    session: str | None = told("session")
    distance: float | None = told("distance", unit="m")
    angle: float | None = told("angle", unit="rad", shown="°")
    height: float | None = told("height", unit="m")
    microphone_side: str | None = told("microphone side")
    holder: str | None = told("holder")
    logger: str | None = told("logger")
    clock_offset: float | None = told("clock offset", unit="s")
    coolant_filled: str | None = told("coolant filled")
    what: str | None = told("what")
    note: str | None = told("note")

    @property
    def name(self) -> str:
        """The file that the row speaks of, with the part where it names one."""
        return self.file if self.part is None else f"{self.file}, part {self.part}"


@dataclass(frozen=True, kw_only=True)
class Taken:
    """One run of a measurement file that was brought in: the bytes, how they are read, what is said of it.

    A file with several tables or sweeps is several runs: `part` counts them from 1 and is None where the
    whole file is one run; the run's readings are [first, last) of its table. `said` holds what the names
    pattern or `--as` told (fan, sample, obstacle, duty …), `found` what the file itself says: a row of the
    run table comes before `said`, `said` before `found`. `direction` is that of the flow, "up" or "down",
    where it can be told. `measured` is when the first reading was taken, as the file says, `ended` of a logger's
    file when the last one was; `arrived` when the file was brought in.
    """

    kind: ClassVar[str] = "taken"
    sha256: str = told("sha256", required=True)
    part: int | None = told("part")
    file: str = told("file", required=True)
    place: str = told("place", required=True)
    date: str = told("date", required=True)
    layout: dict[str, Any] = told("layout", required=True)
    reader: str = told("reader", required=True)
    content: str = told("content", required=True)
    quantities: tuple[str, ...] = told("quantities", required=True)
    nozzles: tuple[str, ...] | None = told("nozzles")
    points: int = told("points", required=True)
    first: int | None = told("first reading")
    last: int | None = told("last reading")
    direction: str | None = told("direction")
    said: dict[str, str] | None = told("said")
    found: dict[str, str] | None = told("found in the file")
    measured: str | None = told("measured")
    ended: str | None = told("ended")
    arrived: str | None = told("arrived")

    @property
    def name(self) -> str:
        """The hash of the bytes, with the part: the same bytes are the same recording."""
        return self.sha256 if self.part is None else f"{self.sha256}/{self.part}"

    @property
    def run(self) -> str:
        """Short identity of the run."""
        return self.sha256[:12] if self.part is None else f"{self.sha256[:12]}-{self.part}"

    @property
    def words(self) -> str:
        """The file as people name it, with the part where it has several."""
        return self.file if self.part is None else f"{self.file}, part {self.part}"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One setting within a run of the heat rig: as it was planned, or where in the record it lies.

    `start` and `stop` are clock times or minutes since the run's start, as they were told; a step without them is
    a planned setting, in its order. `noise` is the level [dB(A)] for which the set list chose the setting. Which run
    it is of is told by `session`, by `mounting`, or by rig, fan and sample.
    """

    kind: ClassVar[str] = "step"
    one_of: ClassVar[tuple[str, ...]] = ("session", "mounting", "rig", "from")
    session: str | None = told("session")
    mounting: str | None = told("mounting")
    rig: str | None = told("rig")
    fan: str | None = told("fan")
    sample: str | None = told("sample")
    step: int = told("step", required=True)
    start: str | None = told("from")
    stop: str | None = told("to")
    duty: float | None = told("duty", unit="1", shown="%")
    volts: float | None = told("volts", unit="V")
    speed: float | None = told("speed", unit="1/s", shown="rpm")
    noise: float | None = told("noise", unit="dB", shown="dBA")
    note: str | None = told("note")

    @property
    def of(self) -> str:
        """Whose step it is: the session's, the mounting's, or that of rig, fan and sample."""
        named = "/".join(each for each in (self.rig, self.fan, self.sample) if each)
        return self.session or self.mounting or named

    @property
    def name(self) -> str:
        """Whose step it is, and its number."""
        return f"{self.of}/{self.step}"


@dataclass(frozen=True, kw_only=True)
class Event:
    """One line in the log."""

    kind: ClassVar[str] = "event"
    time: str = told("time", required=True)
    text: str = told("text", required=True)
    rig: str | None = told("rig")
    changes_results: bool | None = told("changes results")
    leak: float | None = told("leak", unit="m³/s", shown="m³/h")
    by: str | None = told("by")

    @property
    def name(self) -> str:
        """Time and words."""
        return f"{self.time} {self.text}"


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What a person decided of a finding; it lapses when the key that it was made for moves.

    `after_ranking` tells whether a ranking with what was judged had been kept by then.
    """

    kind: ClassVar[str] = "decision"
    finding: str = told("finding", required=True)
    rule: str = told("rule", required=True)
    subject: str = told("subject", required=True)
    key: str = told("key", required=True)
    action: str = told("action", required=True)
    reason: str = told("reason", required=True)
    by: str = told("by", required=True)
    time: str = told("time", required=True)
    after_ranking: bool | None = told("after a ranking")

    @property
    def name(self) -> str:
        """The finding that it answers."""
        return self.finding


@dataclass(frozen=True, kw_only=True)
class Spread:
    """The agreed spread between mountings and between samples of one measure, relative, with its degrees
    of freedom: a dated record, so that old numbers don't move with whoever is in the lab today.
    """

    kind: ClassVar[str] = "spread"
    measure: str = told("measure", required=True)
    date: str = told("date", required=True)
    mounting: float = told("between mountings", unit="1", shown="%", required=True)
    mounting_dof: float = told("degrees of freedom, mountings", required=True)
    sample: float = told("between samples", unit="1", shown="%", required=True)
    sample_dof: float = told("degrees of freedom, samples", required=True)
    fans: int = told("fans", required=True)

    @property
    def name(self) -> str:
        """The measure that it belongs to."""
        return self.measure


@dataclass(frozen=True, kw_only=True)
class SavedLayout:
    """A way of reading files, kept under a name.

    `tables` holds the whole layout of each table of such a file, in the file's order: files are then read
    strictly by it. `reading` holds what was told by `--as`; a layout without tables is only that.
    """

    kind: ClassVar[str] = "layout"
    layout: str = told("layout", required=True)
    reading: dict[str, str] = told("reading", required=True)
    tables: list[dict[str, Any]] | None = told("tables")

    @property
    def name(self) -> str:
        """The layout's name."""
        return self.layout
