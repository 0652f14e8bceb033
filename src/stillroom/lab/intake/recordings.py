"""Sound recordings as they are brought in: one run each, with its format, and what its name says was recorded."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import PurePosixPath
from typing import Any

from stillroom.errors import BadInput, Contradiction, StillroomError
from stillroom.lab.book import row_for
from stillroom.lab.intake.batch import Ask, File, Measured, Part
from stillroom.lab.intake.told_sound import sound_in_si, sound_words
from stillroom.readers.layout import Layout
from stillroom.readers.paths.names import without_suffix
from stillroom.readers.reading.recording import Recording
from stillroom.readers.sound.audio import AudioFormat, check_audio
from stillroom.readers.words.kinds import Kind
from stillroom.readers.words.recordings import UNDIRECTED, Recorded, recorded_in, recorded_in_name
from stillroom.records.acts import Run

AUDIO_VERSION = 1
"""Raised when the same recording would be read otherwise."""

Said = Mapping[str, Mapping[str, str]]


def recording_of(file: File) -> Part:
    """A sound recording as a run.

    Raises
    ------
    UnreadableFile : it is no recording that can be used; says why.
    """
    audio = check_audio(file.source)
    nothing = Recording(file.source, Layout(columns=()), Kind.SOUND_RECORDING, {}, (), {}, ())
    return Part(
        number=None,
        kind=Kind.SOUND_RECORDING,
        layout=audio_layout(audio),
        recording=nothing,
        first=0,
        last=0,
        direction="",
        found=told_by_name(file.name),
        measured=audio.recorded or "",
        audio=audio,
    )


def audio_layout(audio: AudioFormat, channel: int = 0) -> dict[str, Any]:
    """How a recording is read, as plain values; channel 0 where it isn't known which is the microphone."""
    return {
        "audio": AUDIO_VERSION,
        "rate": audio.rate,
        "channels": audio.channels,
        "subtype": audio.subtype,
        "container": audio.container,
        "frames": audio.frames,
        "channel": 1 if audio.channels == 1 else channel,
    }


def told_by_name(name: str) -> dict[str, str]:
    """What a file's own name, or else its folder's, says was recorded, and the level of a calibrator."""
    path = PurePosixPath(without_suffix(name))
    named = recorded_in_name(path.name)
    if named is None and path.parent.name:
        folder = recorded_in_name(path.parent.name)
        within = recorded_in_name(f"{path.parent.name} {path.name}")
        named = within if folder is not None and not folder.rest else None
    if named is None:
        return {}
    level = {} if named.level is None else {"calibrator": repr(named.level)}
    return {"recording": named.words} | level


def recorded_of(said: Mapping[str, str], found: Mapping[str, str], row: Run | None) -> str:
    """What was recorded, by who tells it first; "" where nobody does."""
    by_row = (row.recording or "") if row else ""
    return by_row or said.get("recording", "") or found.get("recording", "")


def is_of_fan(words: str) -> bool:
    """Whether a fan runs in what these words say was recorded; so it does where nobody told."""
    known = recorded_in(words)
    return known is None or known.is_of_fan


def is_dwell(words: str) -> bool:
    """Whether a steady setting was recorded; so it was where nobody told."""
    return words in {"", Recorded.DWELL.value}


def against_own_name(
    name: str, told: Mapping[str, str], found: Mapping[str, str], row: Run | None
) -> Contradiction | None:
    """What `--as` tells of a recording otherwise than its name: what was recorded, or the calibrator's level; None
    where they agree, or where a row of the run table decides.

    Parameters
    ----------
    told : what `--as` says of every file. found : what the name says.
    """
    for key, differ in (("recording", differ_in_kind), ("calibrator", differ_in_level)):
        by_row = getattr(row, key) if row else None
        if by_row is None and key in told and key in found and differ(told[key], found[key]):
            words = [sound_words(key, each) for each in (told[key], found[key])]
            return Contradiction(
                key,
                place=name,
                found=f"{words[0]} by --as and {words[1]} in its name",
                expected="the same; or another name of the file, or a row of a run table, which comes before both",
            )
    return None


def differ_in_kind(one: str, other: str) -> bool:
    """Whether two tell different things of what was recorded; "background" and "background after" don't."""
    a, b = one.split(), other.split()
    return a[: len(b)] != b[: len(a)]


def differ_in_level(one: str, other: str) -> bool:
    """Whether two tell different levels of a calibrator [dB]."""
    return not math.isclose(float(one), float(other), abs_tol=0.5)


def settle_recordings(
    measured: Sequence[Measured],
    said: dict[str, dict[str, str]],
    told: Mapping[str, str],
    rows: Mapping[str, list[Run]],
    ask: Ask | None,
) -> Iterator[tuple[str, StillroomError]]:
    """Settle which channel of each recording is the microphone, and that it is known what was recorded; each file
    of which that isn't so, with what is wrong.

    Parameters
    ----------
    said : what names and `--as` say of each file; a channel that is answered is put in.
    told : what `--as` says of every file. rows : as by `by_path`.
    ask : how to ask at a terminal, or None.
    """
    answers: dict[int, str] = {}
    for each in measured:
        name, row = each.file.name, row_for(each.file.name, rows)
        own = said.setdefault(name, {})
        if each.is_recording and not each.file.alone and _is_mono(each) and "channel" in told:
            own.pop("channel", None)  # it is told of those files that have several
        for before in each.before if each.is_recording else ():
            if _told_channel(own, row) > before.layout["channels"]:
                yield name, _no_channel(name, before.layout["channels"], _told_channel(own, row))
        for part in each.parts if each.is_recording else ():
            try:
                _check_ramp(name, own, part, row)
                if part.audio is not None and part.audio.channels > 1:
                    _settle_channel(name, own, part.audio, row, ask, answers)
                elif part.audio is not None:
                    _check_channel(name, part.audio, _told_channel(own, row))
            except StillroomError as error:
                yield name, error


def _check_ramp(name: str, said: Mapping[str, str], part: Part, row: Run | None) -> None:
    if recorded_of(said, part.found, row) == UNDIRECTED:
        raise BadInput(
            "ramp",
            place=name,
            found="a name that doesn't tell whether the speed rises or falls",
            expected="ramp-up or ramp-down in its name, or --as 'recording=ramp up', or a column in a run table",
        )


def _is_mono(each: Measured) -> bool:
    layouts = [part.layout for part in each.parts] or [before.layout for before in each.before]
    return all(layout["channels"] == 1 for layout in layouts)


def _told_channel(said: Mapping[str, str], row: Run | None) -> int:
    return (row.channel if row else None) or int(said.get("channel", "0"))


def _settle_channel(
    name: str,
    said: dict[str, str],
    audio: AudioFormat,
    row: Run | None,
    ask: Ask | None,
    answers: dict[int, str],
) -> None:
    if not _told_channel(said, row) and ask is not None:
        if audio.channels not in answers:
            words = f"{name} has {audio.channels} channels: which is the microphone? (1 to {audio.channels})"
            answers[audio.channels] = sound_in_si("channel", ask(words), "the answer")
        said["channel"] = answers[audio.channels]
    channel = _told_channel(said, row)
    if not channel:
        raise BadInput(
            "channel",
            place=name,
            found=f"{audio.channels} channels, and nobody told which is the microphone",
            expected="--as channel=1, {channel} in a pattern of names, or a column 'channel' in a run table",
        )
    _check_channel(name, audio, channel)


def _check_channel(name: str, audio: AudioFormat, channel: int) -> None:
    if channel > audio.channels:
        raise _no_channel(name, audio.channels, channel)


def _no_channel(name: str, channels: int, channel: int) -> BadInput:
    has = "one channel" if channels == 1 else f"{channels} channels"
    expected = "channel 1" if channels == 1 else f"1 to {channels}"
    return BadInput(
        "channel", place=name, found=f"channel {channel}, in a recording of {has}", expected=expected
    )


def with_channel(layout: Mapping[str, Any], said: Mapping[str, str], row: Run | None) -> dict[str, Any]:
    """A recording's layout with the channel that is told; as it is where nobody tells another."""
    channel = _told_channel(said, row)
    return {**layout, "channel": channel} if channel and layout["channels"] > 1 else dict(layout)


def in_words(audio: AudioFormat) -> str:
    """A recording's format in words."""
    channels = "1 channel" if audio.channels == 1 else f"{audio.channels} channels"
    depth = {"FLOAT": "32 bits float", "DOUBLE": "64 bits float"}
    bits = depth.get(audio.subtype, f"{audio.subtype.removeprefix('PCM_')} bits")
    return f"sound recording: {audio.container}, {audio.rate / 1000:g} kHz, {bits}, {channels}"


def length_words(seconds: float) -> str:
    """A length in words."""
    if seconds < 120:
        return f"{seconds:.1f} s"
    return f"{int(seconds // 60)} min {int(seconds % 60):02d} s"
