"""Which calibrators and backgrounds belong to which recording."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.lab.sound.nodes import Beside, RecordingNode


def beside(recording: RecordingNode, others: Sequence[RecordingNode]) -> Beside:
    """Those of `others` (calibrators, or backgrounds) that belong to a recording."""
    raise NotImplementedError
