"""Which calibrators and backgrounds belong to which recording: those of its session where one is told; else those
that name its mounting; else those of its rig and day, the last before it and the first after it. What is told to
belong to another session never stands in.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from stillroom.lab.sound.nodes import Beside, RecordingNode
from stillroom.lab.sound.placing import SoundRun
from stillroom.readers.words.recordings import Recorded

_BEFORE = {Recorded.BACKGROUND_BEFORE, Recorded.CALIBRATOR_BEFORE}
_AFTER = {Recorded.BACKGROUND_AFTER, Recorded.CALIBRATOR_AFTER}
Pool = tuple[RecordingNode, ...]


class Sessions:
    """The calibrators, or the backgrounds, of a lab.

    Parameters
    ----------
    nodes : all of them.
    """

    def __init__(self, nodes: Iterable[RecordingNode]) -> None:
        self._sessions: dict[tuple[str, str], list[RecordingNode]] = defaultdict(list)
        self._mountings: dict[str, list[RecordingNode]] = defaultdict(list)
        self._days: dict[tuple[str, str], list[RecordingNode]] = defaultdict(list)
        for each in nodes:
            run = each.run
            if run.session:
                self._sessions[run.placed.rig, run.session].append(each)
            if run.placed.mounting:
                self._mountings[run.placed.mounting].append(each)
            self._days[run.placed.rig, run.placed.date].append(each)

    def beside(self, recording: RecordingNode) -> Beside:
        """Those that belong to a recording; none where there are none."""
        run = recording.run
        if run.session:
            own = _of_chain(run, self._sessions[run.placed.rig, run.session])
            if own:
                return _by_side(run, own)
        own = _not_of_another(run, _of_chain(run, self._mountings[run.placed.mounting]))
        if own:
            return _by_side(run, own)
        day = _not_of_another(run, _of_chain(run, self._days[run.placed.rig, run.placed.date]))
        others = tuple(each for each in day if not each.run.placed.mounting)
        return _nearest(run, _by_side(run, others or day))


def _of_chain(run: SoundRun, nodes: Iterable[RecordingNode]) -> Pool:
    """Those that the same microphone heard, of backgrounds those at the same place."""
    return tuple(each for each in nodes if _same_chain(run, each.run))


def _not_of_another(run: SoundRun, nodes: Pool) -> Pool:
    """Those that aren't told to belong to another session: there the gain or the room may have been another."""
    return tuple(each for each in nodes if not run.session or each.run.session in {"", run.session})


def _same_chain(run: SoundRun, other: SoundRun) -> bool:
    if run.microphone != other.microphone:
        return False
    if run.is_recording and other.is_recording and run.channel != other.channel and not _single(run, other):
        return False
    return other.recorded.is_calibrator or run.geometry.place == other.geometry.place


def _single(run: SoundRun, other: SoundRun) -> bool:
    """Whether one of two files has but one channel, so that its number says nothing."""
    return 1 in (each.placed.taken.layout.get("channels", 1) for each in (run, other))


def _by_side(run: SoundRun, nodes: Pool) -> Beside:
    """Before and after: by their word, without one by the time of day, without that before."""
    before: list[RecordingNode] = []
    after: list[RecordingNode] = []
    for each in sorted(nodes, key=_in_time):
        (after if _is_after(run, each.run) else before).append(each)
    return Beside(tuple(before), tuple(after))


def _in_time(node: RecordingNode) -> tuple[str, str, int]:
    taken = node.run.placed.taken
    return node.run.moment, taken.file, taken.part or 0


def _is_after(run: SoundRun, other: SoundRun) -> bool:
    if other.recorded in _BEFORE | _AFTER:
        return other.recorded in _AFTER
    return run.timed and other.timed and other.moment > run.moment


def _nearest(run: SoundRun, found: Beside) -> Beside:
    """Of a whole day's the last before and the first after; all where there are no times of day."""
    if not run.timed or not all(each.run.timed for each in found.all):
        return found
    before = [each for each in found.all if each.run.moment <= run.moment and each.run.recorded not in _AFTER]
    after = [each for each in found.all if each.run.moment > run.moment and each.run.recorded not in _BEFORE]
    latest = max((each.run.moment for each in before), default="")
    first = min((each.run.moment for each in after), default="")
    return Beside(
        tuple(each for each in before if each.run.moment == latest),
        tuple(each for each in after if each.run.moment == first),
    )
