"""Watching heat rigs while they run."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from stillroom.errors import BadInput
from stillroom.lab.book import open_book
from stillroom.live.lines import is_change, line_of, rings, table_of
from stillroom.live.serving import Serving
from stillroom.live.sources import rig_files
from stillroom.live.states import RigState, State
from stillroom.live.stream import data_of
from stillroom.live.watching import watch as states_of
from stillroom.verbs.added import Say, ended_by_signal
from stillroom.verbs.added import quiet as silent
from stillroom.verbs.doors import open_lab, quantity
from stillroom.verbs.said import BLOCKED, DONE, Said

Panel = Callable[[Sequence[str], bool], None]
"""Shows a few lines that renew in place where a terminal can, and rings its bell."""


def no_panel(_lines: Sequence[str], _ring: bool) -> None:
    """Where nobody looks."""


def watch(
    *folders: Path,
    rig: str = "",
    once: bool = False,
    serve: int | None = None,
    every: float = 2.0,
    accept: str = "",
    quiet: bool = False,
    lab: Path | None = None,
    say: Say = silent,
    panel: Panel = no_panel,
) -> Said:
    """Follow the growing logger files of heat rigs, and say of each rig whether its fan may come off.

    Each rig is "settling", "steady", "check rig" or "ready to swap", with one reason, where the step will end and the
    minutes to go. Nothing is brought in or changed. No heat load may be left alone because a program watches it.

    Parameters
    ----------
    folders : of the loggers: a rig's own (named as the rig, or with --rig), or one that holds a folder for each rig;
        without any, as the rigs' records tell (watch = "D:/logs/heat-1/*.csv").
    rig : only this one.
    once : look once and end; exit code 1 where a rig says "check rig".
    serve : also send the states as server-sent events, on this port of this computer alone.
    every : seconds from one look to the next.
    accept : a forecast passes whose 95 % interval reaches no further than this, such as '0.1 K'; without it each step
        is held until it is steady.
    quiet : no bell, and no table that renews.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not every > 0.0:
        raise BadInput("--every", found=f"{every:g}", expected="a positive number of seconds")
    within = _within(accept)
    told, at = _Telling(say, no_panel if quiet or once else panel), ""
    with suppress(KeyboardInterrupt), ended_by_signal(), open_lab(lab) as opened:
        at = str(opened.path)
        sources = rig_files(open_book(opened), opened.path, folders, rig)
        if not once:
            named = [each.rig for each in sources]
            say(Said(f"Watching {', '.join(named)}; Ctrl-C ends it.", data={"watching": named}))
        with _serving(serve, say) as send:
            looks = states_of(
                opened, sources, every=every, once=once, accept=within, sleep=time.sleep, now=datetime.now
            )
            with closing(looks):  # type: ignore[type-var]
                for states in looks:
                    told.tell(states)
                    send(states)
    checks = [each.rig for each in told.last.values() if each.state is State.CHECK]
    words = ", ".join(f"{each.rig} {each.state.value}" for each in told.last.values())
    return Said(
        f"Watched {words}." if words else "Watched nothing.",
        lines=tuple(_into_the_lab(told.last.values(), at)),
        data={"watched": [data_of(each) for each in told.last.values()]},
        code=BLOCKED if once and checks else DONE,
    )


def _into_the_lab(states: Iterable[RigState], lab: str) -> Iterator[str]:
    """How the files of each rig come into the lab, as it is typed."""
    for each in states:
        for number, call in enumerate(each.intake):
            typed = " ".join(f'"{word}"' if " " in word else word for word in (*call, "--lab", lab))
            first = f"{each.rig} into the lab, once its loggers are stopped:" if number == 0 else "and"
            yield f"{first} stillroom add {typed}"


def _within(text: str) -> float | None:
    """A temperature difference [K]; another unit is refused: 0.1 °C is a temperature."""
    symbol = text.strip(" 0123456789.,") or "K"
    if symbol != "K":
        raise BadInput("--accept", found=repr(text), expected="a temperature difference, such as '0.1 K'")
    return quantity(text, "--accept", "temperature", "K")


class _Telling:
    """Says what changed, and keeps the table."""

    def __init__(self, say: Say, panel: Panel) -> None:
        self.say, self.panel = say, panel
        self.last: dict[str, RigState] = {}

    def tell(self, states: Sequence[RigState]) -> None:
        """Take the states of one look."""
        changed = [each for each in states if is_change(self.last.get(each.rig), each)]
        ring = any(rings(self.last.get(each.rig), each) for each in states)
        if changed:
            self.panel((), False)
        for each in changed:
            self.say(Said(f"{datetime.now():%H:%M:%S} {line_of(each)}", data=data_of(each)))
        self.last = {each.rig: each for each in states}
        self.panel(table_of(states), ring)


@contextmanager
def _serving(port: int | None, say: Say) -> Iterator[Callable[[Sequence[RigState]], None]]:
    """Where states are sent to, closed at the end; nowhere without a port."""
    if port is None:
        yield lambda _states: None
        return
    server = Serving(port)
    try:
        say(Said(f"Serving {server.address}", data={"serving": server.address}))
        yield server.tell
    finally:
        server.close()
