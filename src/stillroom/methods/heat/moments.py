"""Times of day as loggers write them, in seconds that can be compared, and back."""

from __future__ import annotations

from datetime import datetime, timedelta

_ORIGIN = datetime(2000, 1, 1)


def seconds_of(moment: str) -> float | None:
    """Seconds of a local time since an origin that all share [s]; None where the text tells no time of day.

    Parameters
    ----------
    moment : ISO 8601, "2026-03-02T09:30:05". An offset from UTC is left aside: loggers of one rig stand in one place.
    """
    if len(moment) < len("2026-03-02T09:30"):
        return None
    try:
        return (datetime.fromisoformat(moment).replace(tzinfo=None) - _ORIGIN).total_seconds()
    except ValueError:
        return None


def moment_of(seconds: float) -> str:
    """A local time from its seconds, to the second, ISO 8601."""
    return (_ORIGIN + timedelta(seconds=round(seconds))).isoformat(timespec="seconds")
