"""Facts of recordings and of mountings that were recorded, as the rules of sound are told them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.core.sound.limit import LimitRule
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.core.spread import FIRST_YEAR_MOUNTING_LEVEL
from stillroom.lab.book import Book
from stillroom.lab.checking import CHECK
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.facts.kept_values import KeptValues
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FREE_AIR, SPREAD
from stillroom.lab.sound.level_words import LOCKED
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.sound.nodes import RecordingNode, SoundNode
from stillroom.quality.sound import (
    VERSION,
    HeardFan,
    HeardMounting,
    RecordingFacts,
    ScaleFacts,
    SpeedFacts,
    ToneFacts,
)
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab

METER = "levels of a meter"
"""The mark of a scale that is a meter's own."""

TURNING = frozenset(each.value for each in LOCKED)
"""Origins of tones that turn with the rotor."""


@dataclass(frozen=True)
class SoundGathering:
    """Gathers facts of the sound of one lab as it stands.

    Parameters
    ----------
    lab, book, graph : the lab, its records and its recipes. values : its values that were kept.
    """

    lab: Lab
    book: Book
    graph: Graph
    values: KeptValues

    def key(self, fan: str) -> str:
        """Key of a fan's check: everything that the rules of sound read."""
        nodes = [(each.key, each.judged, as_json_of(self._method(each)), [self._beside(one) for one in each.members])
                 for each in self.graph.sounding(fan)]  # fmt: skip
        settings = self.book.settings
        return key_of(CHECK, "sound", VERSION, fan, nodes, settings.limits.changed(), settings.sound.limits,
                      settings.sound.rule, self.values.contends(fan), self._free_air(fan), self._spread)  # fmt: skip

    def fan(self, fan: str) -> HeardFan:
        """All that the rules of sound ask of a fan."""
        settings = self.book.settings
        mountings = [self._mounting(each) for each in self.graph.sounding(fan)]
        return HeardFan(
            name=fan,
            mountings=tuple(sorted(mountings, key=lambda each: (each.date, each.name))),
            limits=settings.limits,
            targets=settings.sound.limits,
            highest=settings.sound.rule == LimitRule.HIGHEST.value,
            contends=self.values.contends(fan),
            free_air=self._free_air(fan),
            spread=self._spread,
        )

    @property
    def _spread(self) -> float:
        """Between mountings at equal speed, agreed or of a first year [dB]."""
        agreed = self.book.spreads.get(SPREAD)
        return agreed.mounting if agreed is not None else FIRST_YEAR_MOUNTING_LEVEL

    def _free_air(self, fan: str) -> tuple[str, ...]:
        """Kept values behind an obstacle that rest on noise in free air, in words."""
        found = {f"for {each.measure} {each.condition}".strip() for each in self.values.by_fan.get(fan, ())
                 if FREE_AIR in each.marks}  # fmt: skip
        return tuple(sorted(found))

    def _beside(self, node: RecordingNode) -> list[Any]:
        row = node.run.placed.row
        return [node.name, row.note if row else None, row.warm_up if row else None]

    def _method(self, node: SoundNode) -> Geometry:
        """Where the rig's record says that the microphone stands."""
        rig = rig_on(self.book.rigs, node.rig, _date(node))
        if rig is None:
            return Geometry()
        return Geometry(rig.distance, rig.angle, rig.height, rig.microphone_side or "", rig.holder or "",
                        rig.room_from)  # fmt: skip

    def _mounting(self, node: SoundNode) -> HeardMounting:
        result = results.get(self.lab.database, node.key)
        body: Mapping[str, Any] = result.body if result else {}
        failed = "not reduced yet" if result is None else result.failed
        told: dict[str, list[RecordingFacts]] = defaultdict(list)
        members = {each.name: each for each in node.members}
        for each in body.get("recordings", ()):
            kind = each["what"].partition(" ")[0]
            role = kind if kind in ("calibrator", "background") else "recordings"
            told[role].append(_recording(each, members.get(each["run"])))
        return HeardMounting(
            name=node.subject,
            fan=node.fan,
            sample=node.sample,
            obstacle=node.obstacle,
            rig=node.rig,
            date=_date(node),
            judged=node.judged,
            blocked_as=node.blocked_as,
            geometry=node.geometry,
            method=self._method(node),
            recordings=tuple(told["recordings"]),
            calibrators=tuple(told["calibrator"]),
            backgrounds=tuple(told["background"]),
            rooms={run: (_names(each.before), _names(each.after)) for run, each in node.rooms.items()},
            scales=tuple(map(_scale, body.get("calibrations", ()))),
            sound=load_sound(self.lab.path, result) if result is not None and not failed else None,
            failed=failed,
            blades=node.blades,
            pulses=node.pulses,
            room_from=node.geometry.room_from,
        )


def as_json_of(geometry: Geometry) -> list[Any]:
    """A place as a part of a key."""
    return [*geometry.place, geometry.room_from]


def _date(node: SoundNode) -> str:
    first = (*node.recordings, *node.left_out)[0]
    return first.run.placed.date[:10]


def _names(nodes: Iterable[RecordingNode]) -> tuple[str, ...]:
    return tuple(each.name for each in nodes)


def _scale(told: Mapping[str, Any]) -> ScaleFacts:
    return ScaleFacts(told["before"], told["after"], told["drift"], tuple(told["runs_before"]),
                      tuple(told["runs_after"]), tuple(told["runs"]), METER in told["marks"])  # fmt: skip


def _recording(told: Mapping[str, Any], node: RecordingNode | None) -> RecordingFacts:
    """One recording, as the mounting's result has it."""
    exceeded = told.get("exceeded") or {}
    over, median = exceeded.get("1"), exceeded.get("50")
    speed, bands, bound = told.get("speed"), told.get("bands_corrected"), told.get("bands_bound")
    row = node.run.placed.row if node else None
    return RecordingFacts(
        run=told["run"],
        key=told["key"],
        file=told["file"],
        what=told["what"],
        moment=told["moment"],
        row=told.get("row"),
        setting=told["setting"],
        setting_kind=told["setting_kind"],
        setting_word=told["setting_word"],
        failed=told.get("failed", ""),
        duration=told.get("duration"),
        is_recording=node is None or node.run.is_recording,
        was_read="duration" in told,
        level=told.get("level"),
        corrected=told.get("level_corrected"),
        u=told.get("u") or 0.0,
        delta=told.get("delta"),
        before=told.get("background_before"),
        after=told.get("background_after"),
        is_bound=bool(told.get("is_bound")),
        rejected=told.get("rejected") or 0.0,
        transients=tuple((start, length, loud) for start, length, loud in told.get("transients", ())),
        burst_rumble=told.get("rumble"),
        burst=None if over is None or median is None else over - median,
        scatter=told.get("scatter"),
        clipped=told.get("clipped") or 0,
        dropouts=tuple((start, length) for start, length in told.get("dropouts", ())),
        silent=bool(told.get("silent")),
        speed=SpeedFacts.of(speed) if speed else None,
        tones=tuple(ToneFacts(each["frequency"], each["prominent"], each["origin"] in TURNING)
                    for each in told.get("tones", ())),
        bands=None if bands is None else tuple(bands),
        bands_bound=None if bound is None else tuple(bound),
        note=(row.note if row else None) or "",
        warm_up=row.warm_up if row else None,
    )  # fmt: skip
