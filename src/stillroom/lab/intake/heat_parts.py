"""The run of a heat log: the whole file, with its moments, and its line in words."""

from __future__ import annotations

from collections.abc import Mapping

from stillroom import wording
from stillroom.errors import Contradiction
from stillroom.lab.intake.batch import File, Part
from stillroom.lab.intake.told_heat import told_by_log_name
from stillroom.readers.heat.log import Log
from stillroom.readers.heat.stamps import Stamped, moment, seconds_of
from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import Recording
from stillroom.readers.words.headers import SAMPLE
from stillroom.vocabulary import BY_NAME

_SHOWN = 2


def heat_part(
    file: File, recording: Recording, layout: Layout, found: dict[str, str], date: str, unread: str
) -> Part:
    """A log as a run: measured when its first row was written.

    Parameters
    ----------
    found : what its notes tell. date : that a note tells, ISO 8601, or ""; unread : a note's text that is no date.

    Raises
    ------
    Contradiction : a column names two fans, samples, mountings or obstacles, or another than a note.
    """
    log = recording.log
    assert log is not None
    found = found | _named(file, recording, log, found)
    begin, end = moments_of(log, date)
    return Part(
        number=None,
        kind=recording.kind,
        layout=layout.to_dict(),
        recording=recording,
        first=0,
        last=len(recording),
        direction="",
        found=told_by_log_name(file.name) | found,
        measured=begin,
        unread_date="" if log.stamped.tells_day else unread,
        ended=end,
    )


def _named(file: File, recording: Recording, log: Log, said: Mapping[str, str]) -> dict[str, str]:
    """What columns of names tell of a log; the numbers of its rows are no samples."""
    found: dict[str, str] = {}
    for what, words in log.names.items():
        if not words or (what == SAMPLE and len(words) > 1 and all(map(str.isdecimal, words))):
            continue
        header = recording.headers[what]
        others = [*words, *([said[what]] if what in said else [])]
        if len({each.casefold() for each in others}) > 1:
            raise Contradiction(
                what,
                place=file.name,
                found=f"{others[0]!r} and {others[1]!r} in the column {header!r}"
                + " and a note" * (len(words) == 1),
                expected=f"a file for each, or --as 'column:{header}=none'",
            )
        found[what] = words[0]
    return found


def moments_of(log: Log, date: str) -> tuple[str, str]:
    """When the first and the last reading were taken, ISO 8601; "" where the day isn't known.

    Parameters
    ----------
    date : the day, or the day and time of the start, that a note tells; or "".
    """
    if log.stamped.tells_day:
        return log.begin, log.end
    if not date:
        return "", ""
    if log.stamped is Stamped.CLOCK:
        begin = seconds_of(f"{date[:10]}T{log.begin}")
    elif len(date) > len("2026-11-26"):
        begin = seconds_of(date) + log.first
    else:
        return date, ""
    return moment(begin), moment(begin + log.span)


def log_words(recording: Recording) -> str:
    """A log in a line: its channels, its span, its gaps, its clock, and what is missing."""
    log = recording.log
    assert log is not None
    channels = [each for each in recording.columns if each != "time"]
    words = [
        wording.plural(len(channels), "channel"),
        f"{span_words(log.span)} in steps of {log.step:.3g} s",
        _gaps(log),
        f"clock: {log.stamped.value}" + (f", past midnight {log.midnights} times" * (log.midnights > 1)),
    ]
    if log.repeated:
        words.append(f"{log.repeated:,} repeated stamps spread evenly")
    if log.slips:
        words.append(f"{wording.plural(log.slips, 'stamp')} a little before the one above")
    if log.averaged > 1:
        words.append(f"each reading the mean of {log.averaged} rows")
    return ", ".join((*words, *missing_words(log)))


def missing_words(log: Log) -> list[str]:
    """What is missing in the channels of a log, the worst first."""
    lacking = sorted(
        ((each.missing, name) for name, each in log.channels.items() if each.missing), reverse=True
    )
    words = []
    for _, name in lacking[:_SHOWN]:
        known = log.channels[name]
        parts = [
            *([f"{known.empty:,} empty"] if known.empty else []),
            *([f"{known.over:,} over the range"] if known.over else []),
            *([f"{known.outside:,} that can't be"] if known.outside else []),
        ]
        words.append(f"{BY_NAME[name].label.lower()}: {' and '.join(parts)}")
    return [
        *words,
        *([f"{len(lacking) - _SHOWN} more channels with cells missing"] if len(lacking) > _SHOWN else []),
    ]


def _gaps(log: Log) -> str:
    if not log.gaps:
        return "no gaps"
    longest = max(log.gaps, key=lambda each: each.last - each.first)
    size = span_words(longest.last - longest.first)
    if len(log.gaps) == 1:
        return f"a gap of {size} at {span_words(longest.first)}"
    return f"{len(log.gaps)} gaps, the longest of {size} at {span_words(longest.first)}"


def span_words(seconds: float) -> str:
    """A span of time as people say it."""
    if seconds < 120.0:
        return f"{seconds:.3g} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200.0 else f"{seconds / 3600:.1f} h"
