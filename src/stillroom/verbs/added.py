"""What is said of files that came in: words and data."""

from __future__ import annotations

import signal
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from stillroom import wording
from stillroom.lab.intake.batch import Added
from stillroom.lab.intake.checked import Checked, Word
from stillroom.lab.watch.watching import Arrival, Telling, watch
from stillroom.records.acts import Taken
from stillroom.store.lab import Lab, now
from stillroom.verbs.said import BAD_INPUT, BLOCKED, DONE, Said

Say = Callable[[Said], None]
"""Shows something at once, while a verb goes on."""


def quiet(_said: Said) -> None:
    """Where nobody looks."""


MOST_FILES = 40
"""So many files are listed one by one; the data always hold all."""


def said_of(added: Added, checked: Sequence[Checked] = (), *, preview: bool = False) -> Said:
    """The answer of `add`: bad input where a file could not come in, else blocked where a run is to be stopped at."""
    return Said(
        _title(added, preview) + _stop_words(checked),
        lines=(*_lines(added), *_checked_lines(checked)),
        data=_data(added) | {"checked": [each.as_dict() for each in checked]},
        code=BAD_INPUT if added.bad else _code(checked),
    )


def _code(checked: Sequence[Checked]) -> int:
    return BLOCKED if any(each.word is Word.STOP for each in checked) else DONE


def _stop_words(checked: Sequence[Checked]) -> str:
    """How many runs came in that must not be used as they are."""
    stopped = sum(each.word is Word.STOP for each in checked)
    return " " + wording.sentence(f"stop at {wording.plural(stopped, 'run')}") if stopped else ""


def said_of_withdrawn(gone: Sequence[Taken]) -> Said:
    """The answer of `add --withdraw`."""
    files = list(dict.fromkeys(each.file for each in gone))
    return Said(
        f"Withdrew {wording.listed(files, most=3)}: {wording.plural(len(gone), 'run')} out of use.",
        lines=("The originals and the history stay; a file that is added again by its own path comes back.",),
        data={"withdrawn": files, "runs": [each.run for each in gone]},
    )


def _title(added: Added, preview: bool) -> str:
    bad = f"; {wording.plural(len(added.bad), 'bad file')} not added" if added.bad else ""
    if preview:
        count = wording.plural(len(added.parts), "measurement file")
        return f"Understood {count}; nothing was written{bad}."
    if not added.changed:
        known = " these bytes are in the lab already" if added.known and not added.bad else ""
        here = " in the lab" if added.shared else ""
        return f"Nothing changed{here}{':' if known else ''}{known}{bad}."
    only_records = added.records and not (added.new or added.again)
    parts = ["records"] if only_records else [wording.plural(len(added.new), "new measurement file")]
    if added.again:
        parts.append(f"{len(added.again)} read anew")
    if added.known:
        parts.append(f"{len(added.known)} there already")
    return wording.sentence("added " + ", ".join(parts) + bad)


def _lines(added: Added) -> list[str]:
    lines = [f"Bad: {each.sentence()}" for each in added.bad]
    if added.records:
        kinds = (f"{number} {kind}" for kind, number in added.records.items())
        lines.append("Records: " + ", ".join(kinds))
    if added.names:
        lines.append(f"Names: {added.names}")
    for file, words in added.understood.items():
        lines.append(file)
        lines += [f"    {each}" for each in words]
    runs = [f"    {file}: {each}" for file, several in added.parts.items() for each in several]
    lines += ["Runs:"] * bool(runs) + _shortened(runs)
    lines += _shortened([f"Read anew {each}" for each in added.again if "(" in each])
    lines += _layouts(added)
    lines += [f"Wrote {added.shared}: the way of reading, for another lab"] if added.shared else []
    lines += _shortened([f"Left out {file}: {why}" for file, why in added.left_out.items()])
    return lines + [f"Mark: {each}" for each in added.marks]


def _checked_lines(checked: Sequence[Checked]) -> list[str]:
    """What was found of each run: those to look at first; runs of which the same is said, together."""
    order = [Word.STOP, Word.LOOK, Word.FIRST, Word.AGREES]
    alike: dict[tuple[str, str, str], list[Checked]] = {}
    for each in sorted(checked, key=lambda each: order.index(each.word)):
        same = "" if each.word is Word.AGREES else each.reason
        key = (each.placed.mounting or each.placed.run, each.word.value, same)
        alike.setdefault(key, []).append(each)
    lines = [line for several in alike.values() for line in (_together(several), *_advice(several[0]))]
    counted = Counter(each.word for each in checked)
    total = ", ".join(f"{counted[word]} {word.value}" for word in order if counted[word])
    counts = [f"Checked: {total}"] if len(checked) > 1 else []
    return [*_shortened(lines), *counts, *_to_decide(checked)]


def _advice(each: Checked) -> list[str]:
    return [f"    {each.advice}"] if each.advice else []


def _to_decide(checked: Sequence[Checked]) -> list[str]:
    """How what stops is settled."""
    if not any(each.word is Word.STOP and each.findings for each in checked):
        return []
    return [
        "Settle it while the fan is on the rig, or: stillroom decide FINDING accept|repeat|exclude --reason …"
    ]


def _together(several: Sequence[Checked]) -> str:
    first = several[0]
    if len(several) == 1:
        return first.line
    settings = ", ".join(dict.fromkeys(each.placed.setting_word or "no setting" for each in several))
    what = " ".join(each for each in (first.placed.fan, first.placed.sample) if each)
    worst = max(several, key=lambda each: each.away)
    return f"{first.placed.mounting}  {what} at {settings}: {first.word.value}: {worst.reason}"


def _layouts(added: Added) -> list[str]:
    """Which files were read by a layout that the lab had kept."""
    by_name: dict[str, list[str]] = {}
    for file, name in added.by_layout.items():
        by_name.setdefault(name, []).append(file)
    return [
        f"{files[0]}{f' and {len(files) - 1} more' if len(files) > 1 else ''}: read by layout {name}, as before"
        for name, files in by_name.items()
    ]


def _shortened(lines: list[str]) -> list[str]:
    if len(lines) <= MOST_FILES:
        return lines
    return [*lines[:MOST_FILES], f"    and {len(lines) - MOST_FILES} more"]


def _data(added: Added) -> dict[str, object]:
    data: dict[str, object] = {
        "new": list(added.new),
        "read_anew": list(added.again),
        "already_there": list(added.known),
        "records": added.records,
        "left_out": added.left_out,
        "understood": {file: list(words) for file, words in added.understood.items()},
        "parts": {file: list(words) for file, words in added.parts.items()},
        "names": added.names,
        "by_layout": added.by_layout,
        "shared": added.shared,
        "marks": list(added.marks),
        "runs": list(added.runs),
    }
    if added.bad:
        data["errors"] = [each.as_dict()["error"] for each in added.bad]
    return data


def watched(lab: Lab, folder: Path, telling: Telling, *, once: bool, say: Say) -> Said:
    """Watch a folder and say what comes in, until it is ended (or nothing is left, `once`).

    Ctrl-C ends it, and so does the signal by which systems end a service: both leave nothing behind.
    """
    counted: Counter[str] = Counter()
    if not once:
        say(Said(f"Watching {folder}; Ctrl-C ends it.", data={"watching": str(folder)}))
    with suppress(KeyboardInterrupt), ended_by_signal():
        for arrival in watch(lab, folder, telling, once=once):
            counted.update(each.word.value for each in arrival.checked)
            counted["bad"] += arrival.error is not None
            counted["already_there"] += len(arrival.known)
            say(_said_of_arrival(arrival))
    total = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counted.items() if number)
    return Said(
        f"Watched {folder}: {total or 'nothing came in'}.",
        data={"watched": str(folder), **{word: number for word, number in counted.items() if number}},
        code=BAD_INPUT if once and counted["bad"] else BLOCKED if once and counted[Word.STOP] else DONE,
    )


@contextmanager
def ended_by_signal() -> Iterator[None]:
    """Let a signal to end be as an interrupt from the keyboard, where this is the thread that signals come to."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _said_of_arrival(arrival: Arrival) -> Said:
    time = now()[11:19]
    data: dict[str, object] = {"file": arrival.file, "time": now()}
    if arrival.known:
        words = f"{time}  {wording.listed(arrival.known, most=3)}: in the lab already, with the same bytes"
        return Said(words, data=data | {"already_there": list(arrival.known)})
    if arrival.error is not None:
        return Said(f"{time}  bad: {arrival.error.sentence()}", data=data | arrival.error.as_dict())
    if arrival.left_out:
        return Said(
            f"{time}  left out {arrival.file}: {arrival.left_out}", data=data | {"left_out": arrival.left_out}
        )
    if arrival.charts:
        page = next(each for each in arrival.charts if each.suffix == ".html")
        return Said(
            f"{time}  picture: {page}", data=data | {"charts": [str(each) for each in arrival.charts]}
        )
    if not arrival.checked:
        return Said(f"{time}  {arrival.file}: came in", data=data | {"records": dict(arrival.records or {})})
    lines = [line for each in arrival.checked for line in (f"{time}  {each.line}", *_advice(each))]
    checked = [each.as_dict() for each in arrival.checked]
    return Said(lines[0], lines=(*lines[1:], *arrival.picture), data=data | {"checked": checked})
