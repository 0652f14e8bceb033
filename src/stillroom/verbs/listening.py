"""Excerpts of recordings for a video."""

from __future__ import annotations

from itertools import chain, count
from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput
from stillroom.lab.blocking import blocked_in
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import as_written
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.lab.sound.excerpt_files import described, file_names, reference_level, reference_tone, wave_of
from stillroom.lab.sound.excerpts import Excerpt, Excerpts, excerpts
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.level_words import at_distance, speed_in_words
from stillroom.lab.whole import worked_out
from stillroom.measures import Condition
from stillroom.store.files import write_bytes
from stillroom.verbs.conditions import Conditions
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said, Table

SCHEMA = "stillroom/excerpts/1"
TEXT, TONE = "excerpts.txt", "reference-tone.wav"
SHORTEST, LONGEST = 1.0, 60.0
"""Lengths of an excerpt that may be asked for [s]."""


def listen(
    *fans: str,
    noise: str = "",
    speed: str = "",
    duty: str = "",
    volts: str = "",
    through: str = "",
    seconds: float = 6.0,
    matched: bool = False,
    out: Path | None = None,
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Write excerpts of fans' recordings for a video, all on one scale, with the tone by which playback is set.

    Each is the steadiest stretch of the dwell that comes nearest to what is asked for, without a transient, with
    fades of 0.3 s, as WAV of 24 bits at the recording's own rate; excerpts.txt says what each of them is. A dwell
    stands for a speed within 10 %, and for a noise limit when its level is within 2 dB too; where none does, the
    excerpt is cut from a ramp that passes the speed, and says so. Each call writes a folder of its own.

    Parameters
    ----------
    fans : their names.
    noise : at the speed that a noise limit allows, such as 35 or '1.5 sone'.
    speed : at a speed, such as '1200 rpm'; at the highest speed recorded where nothing is asked for.
    duty : at a PWM duty, such as 40 or '40 %'.
    volts : at a supply voltage, such as 7 or '7 V'.
    through : the obstacle with which the fan was recorded, as for rank; where none is given and it was never in free
        air, the one that it was recorded with.
    seconds : length of each, fades included.
    matched : all at the level of the quietest, to compare how they sound; else each at its true level.
    out : the folder for the files, without an earlier call's; where none is given, one named after the condition
        under listen/ in the lab, numbered where there is one already.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not fans:
        raise BadInput("listen", found="no fan", expected="a fan's name, or several")
    if not SHORTEST <= seconds <= LONGEST:
        raise BadInput("--seconds", found=f"{seconds:g}", expected=f"{SHORTEST:g} to {LONGEST:g}")
    if out is not None and any((out / each).exists() for each in (TEXT, TONE)):
        raise BadInput(
            "--out", found=f"{out}, with the excerpts of an earlier call", expected="another folder"
        )
    limits = (noise,) if noise else ()
    condition = Conditions(speed=speed, duty=duty, volts=volts, noise=limits).through(through)
    with open_lab(lab) as opened:
        _, book, graph, doubts = worked_out(opened, progress)
        fans = as_written(book, graph, fans)
        found = excerpts(Sounds(opened, book, graph), fans, condition, seconds=seconds, matched=matched)
        blocked = blocked_in(doubts, book, graph, condition.obstacle)
        subjects = {each.key: each.subject for each in graph.sounds}
        folder = out or _numbered(opened.path / "listen" / _named(condition, matched=matched))
    stops = {each.fan: blocked[subjects[each.key]] for each in found.found if subjects[each.key] in blocked}
    written = _write(found, folder)
    tables = (("", _table(found, matched)),)
    lines = _lines(found, stops, folder)
    if found.left_out and condition.is_limited:
        lines = ("Record a dwell at the speed and setting that `set-list` gives, to hear such a fan.", *lines)
    return Said(_title(found, matched), tables, lines, _data(found, written, matched))


def _named(condition: Condition, *, matched: bool) -> str:
    """The name of the folder for a condition: "30-dba-rad27"."""
    parts = {
        "dba": condition.noise,
        "sone": condition.sone,
        "rpm": None if condition.speed is None else round(condition.speed * 60.0),
        "pct": None if condition.duty is None else 100.0 * condition.duty,
        "v": condition.volts,
    }
    setting = [f"{value:g} {unit}" for unit, value in parts.items() if value is not None] or ["fastest"]
    return plain_name(*setting, condition.obstacle, "matched" if matched else "")


def _numbered(folder: Path) -> Path:
    """The folder, or the first of its name with a number that isn't there yet: no call overwrites another's."""
    others = (folder.with_name(f"{folder.name}-{number}") for number in count(2))
    return next(each for each in chain([folder], others) if not each.exists())


def _write(found: Excerpts, folder: Path) -> dict[str, Excerpt]:
    names = dict(file_names(found.found))
    folder.mkdir(parents=True, exist_ok=True)
    for name, each in names.items():
        write_bytes(folder / name, wave_of(each, found.scale))
    write_bytes(folder / TONE, reference_tone(reference_level(found), found.scale))
    write_bytes(folder / TEXT, described(found).encode())
    return names


def _title(found: Excerpts, matched: bool) -> str:
    how = "all at one level" if matched else "each at its true level"
    many = wording.plural(len(found.found), "excerpt")
    return f"{many[0].upper()}{many[1:]} written, {how}."


def _table(found: Excerpts, matched: bool) -> Table:
    headers = ("fan", "speed", "level", *(("moved by",) if matched else ()), "from", "second", "key")
    rows = []
    for each in found.found:
        level = f"{each.played:.1f} dBA {at_distance(each.geometry)}"
        moved = (f"{each.shift:+.1f} dB",) if matched else ()
        second = f"{each.start:g} to {each.start + each.length:g}"
        rows.append((each.fan, speed_in_words(each.speed), level, *moved, each.file, second, each.key[:10]))
    return Table(headers, tuple(rows), right=(1,))


def _lines(found: Excerpts, stops: dict[str, str], folder: Path) -> tuple[str, ...]:
    lines = [f"{each.fan} stands for {each.asked}." for each in found.found]
    lines += [f"{each.fan}: {', '.join(each.marks)}" for each in found.found if each.marks]
    lines += [f"Not to be published: {fan}: {why}" for fan, why in stops.items()]
    lines += [f"No excerpt of {fan}: {why}" for fan, why in found.left_out]
    lines.append(
        f"Set the playback so that reference-tone.wav (1 kHz) reads {reference_level(found):g} dB where you listen."
    )
    return (*lines, f"Written: {folder}")


def _data(found: Excerpts, written: dict[str, Excerpt], matched: bool) -> dict[str, object]:
    files = [
        {
            "file": name,
            "fan": each.fan,
            "speed": each.speed * 60.0,
            "level": each.played,
            "level_true": each.level,
            "level_of_fan": each.corrected,
            "is_bound": each.is_bound,
            "distance": each.geometry.distance,
            "obstacle": each.obstacle,
            "rate": each.rate,
            "from": each.file,
            "run": each.run,
            "start": each.start,
            "length": each.length,
            "key": each.key,
            "marks": list(each.marks),
        }
        for name, each in written.items()
    ]
    return {
        "schema": SCHEMA,
        "full_scale": found.scale,
        "reference": reference_level(found),
        "matched": matched,
        "excerpts": files,
        "left_out": [{"fan": fan, "why": why} for fan, why in found.left_out],
    }
