"""What is said about publishing: measures registered in a round, disputes and replies, pictures of fans."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from stillroom.records.fields import told


@dataclass(frozen=True, kw_only=True)
class Round:
    """A measure that a round will publish, written down before its data: when is what the journal says.

    `measure` is told in words ("airflow through rad27 at 35 dBA"), `margin` as the smallest gap that a buyer would
    notice, with its unit ("5 %", "0.4 K").
    """

    kind: ClassVar[str] = "round"
    round: str = told("round", required=True)
    measure: str = told("measure", required=True)
    question: str | None = told("question")
    margin: str | None = told("margin")
    note: str | None = told("note")

    @property
    def name(self) -> str:
        """Round and measure."""
        return f"{self.round}/{' '.join(self.measure.split())}"


@dataclass(frozen=True, kw_only=True)
class Dispute:
    """What somebody, usually the maker, says against a fan's numbers, and what the laboratory answered.

    Without a measure it is about all of the fan's numbers. It stands until `settled` tells how or when it ended.
    """

    kind: ClassVar[str] = "dispute"
    fan: str = told("fan", required=True)
    measure: str | None = told("measure")
    since: str = told("since", required=True)
    by: str | None = told("by")
    text: str = told("text", required=True)
    reply: str | None = told("reply")
    reply_date: str | None = told("reply date")
    settled: str | None = told("settled")

    @property
    def name(self) -> str:
        """Fan, measure and day."""
        return f"{self.fan}/{' '.join((self.measure or '').split())}/{self.since}"


@dataclass(frozen=True, kw_only=True)
class Photo:
    """A picture of a fan, or of one sample of it, that is kept among the originals."""

    kind: ClassVar[str] = "photo"
    sha256: str = told("sha256", required=True)
    file: str = told("file", required=True)
    fan: str = told("fan", required=True)
    sample: str | None = told("sample")

    @property
    def name(self) -> str:
        """The hash of its bytes: the same bytes are the same picture."""
        return self.sha256


@dataclass(frozen=True, kw_only=True)
class Frozen:
    """A release that was frozen: its name, day, the hash of its manifest, and which release it corrects."""

    kind: ClassVar[str] = "release"
    release: str = told("release", required=True)
    date: str = told("date", required=True)
    manifest: str = told("manifest", required=True)
    corrects: str | None = told("corrects")

    @property
    def name(self) -> str:
        """The release's name."""
        return self.release
