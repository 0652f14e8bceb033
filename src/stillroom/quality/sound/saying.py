"""Ways to put a finding of sound: about a recording, a mounting, or what several mountings share."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import listed
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts
from stillroom.records.keys import key_of

BLOCKS, MARKS = Severity.BLOCKS, Severity.MARKS

INTEGER_FLOATS = (
    "a WAV of floats scaled as integers (± 32,768 or more in place of ± 1), or a wrong level at full scale"
)
"""The probable cause of samples far above full scale."""


def about_recording(
    rule: int,
    run: RecordingFacts,
    mounting: HeardMounting,
    found: str,
    expected: str,
    *,
    severity: Severity = BLOCKS,
    cause: str = "",
    test: str = "",
    common: str = "",
) -> Finding:
    """A finding of one recording; of one that could not be used it blocks nothing.

    Its key is the recording's own, so that a decision can exclude it.
    """
    blocks = severity is BLOCKS and not run.failed
    return Finding(rule, run.subject, run.key, severity, found, expected, cause, test, run.place,
                   (mounting.fan,), (mounting.blocked_as,) if blocks else (), common=common)  # fmt: skip


def about_beside(
    rule: int,
    run: RecordingFacts,
    mountings: Sequence[HeardMounting],
    found: str,
    expected: str,
    *,
    severity: Severity = BLOCKS,
    cause: str = "",
    test: str = "",
    common: str = "",
) -> Finding:
    """A finding of a calibrator or a background, which several mountings share: told once for all of them."""
    fans = tuple(sorted({each.fan for each in mountings}))
    blocked = tuple(sorted(each.blocked_as for each in mountings)) if severity is BLOCKS else ()
    return Finding(
        rule,
        run.subject,
        run.key,
        severity,
        found,
        expected,
        cause,
        test,
        run.place,
        fans,
        blocked,
        common=common,
    )


def about_sound(
    rule: int,
    mounting: HeardMounting,
    found: str,
    expected: str,
    *,
    severity: Severity = MARKS,
    cause: str = "",
    test: str = "",
    common: str = "",
    place: str = "",
) -> Finding:
    """A finding of one mounting's sound."""
    blocks = severity is BLOCKS
    where = place or (mounting.recordings[0].place if mounting.recordings else "")
    return Finding(rule, mounting.subject, mounting.judged, severity, found, expected, cause, test, where,
                   (mounting.fan,), (mounting.blocked_as,) if blocks else (), common=common)  # fmt: skip


def heard_key(fan: HeardFan) -> str:
    """Key of all that is judged of a fan's sound."""
    return key_of("sound of", fan.name, [each.judged for each in fan.mountings])


def settings_of(runs: Sequence[RecordingFacts]) -> str:
    """Recordings by their settings, in words."""
    return listed([each.setting_word or each.place for each in runs])
