"""The command line, made from the verbs' signatures."""

from __future__ import annotations

import functools
import inspect
import io
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from typing import Annotated, Any

from stillroom import verbs
from stillroom.cli.show import Saying, Showing, panel_on, progress_on, question_on, show, show_error
from stillroom.errors import StillroomError
from stillroom.records.program import VERSION
from stillroom.verbs.options import Option, options_of, with_records
from stillroom.verbs.said import BAD_INPUT, DONE, OUR_FAULT, Said

STOPPED = 130
"""Exit code after an interrupt from the keyboard, as shells have it."""


def app(words: Sequence[str]) -> Any:
    """The application: one command a verb, each with --json besides its own options.

    A verb that the words don't name is only listed, with what it does; its module isn't loaded.
    """
    from cyclopts import App, Parameter

    made = App(
        name="stillroom",
        help="From the raw exports of a fan bench to charts that the laboratory would defend in public.",
        version=VERSION,
        result_action="return_value",
        suppress_keyboard_interrupt=False,
    )
    for name, listed in verbs.LISTED.items():
        made.command(
            _command(verbs.loaded(name), Parameter) if name in words else _only_listed(listed.summary),
            name=name,
        )
    return made


def _only_listed(summary: str) -> Callable[[], int]:
    """A command of which only the help is wanted."""

    def command() -> int:
        raise NotImplementedError("a verb that was not named")

    command.__doc__ = summary if summary.endswith(".") else f"{summary}."
    return command


def _command(verb: Callable[..., Said], parameter: Any) -> Callable[..., int]:
    """A verb as a command: the same signature, less what is filled in, plus --json."""

    @functools.wraps(verb)
    def command(*args: Any, **options: Any) -> int:
        showing = Showing(json=bool(options.pop("json", False)))
        options = with_records(verb, options)
        signature = inspect.signature(verb)
        if "progress" in signature.parameters:
            options["progress"] = progress_on(showing)
        if "ask" in signature.parameters:
            options["ask"] = question_on(showing)
        saying = Saying(showing)
        if "say" in signature.parameters:
            options["say"] = saying
        if "panel" in signature.parameters:
            options["panel"] = panel_on(showing)
        said = verb(*args, **options)
        show(said, saying.showing if saying.used else showing)
        return said.code

    signature = inspect.signature(verb, eval_str=True)
    wanted = [*(_named(each, parameter) for each in options_of(verb)), _as_json(parameter)]
    command.__signature__ = signature.replace(parameters=wanted, return_annotation=int)  # type: ignore[attr-defined]
    command.__doc__ = (inspect.getdoc(verb) or "").partition("\n\n")[0]
    command.__annotations__ = {each.name: each.annotation for each in wanted} | {"return": int}
    del command.__wrapped__
    return command


def _as_json(parameter: Any) -> inspect.Parameter:
    """The option that every verb has."""
    option = parameter(name="--json", negative="", help="the answer as data, for machines")
    kind = inspect.Parameter.KEYWORD_ONLY
    return inspect.Parameter("json", kind, default=False, annotation=Annotated[bool, option])


def _named(option: Option, parameter: Any) -> inspect.Parameter:
    """Give a parameter its option, without a --no-… of its own."""
    each = option.parameter
    if each.kind is inspect.Parameter.KEYWORD_ONLY:
        said = parameter(name=option.written, negative="", help=option.meaning)
    else:
        said = parameter(help=option.meaning)
    return each.replace(annotation=Annotated[each.annotation, said])


def main(words: Sequence[str] | None = None) -> None:
    """Run one command and end with its exit code: 0 done, 1 findings that block, 2 bad input, 3 our fault."""
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    for stream in (sys.stdout, sys.stderr):  # a pipe on some systems has only a few letters
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:] if words is None else list(words)))


def run(words: Sequence[str]) -> int:
    """Run one command; its exit code."""
    from cyclopts.exceptions import CycloptsError

    showing = Showing(json="--json" in words)
    try:
        answer = app(words)(list(words), exit_on_error=False, print_error=False)
        return answer if isinstance(answer, int) else DONE
    except (StillroomError, CycloptsError, OSError) as error:
        return _bad_input(error, showing)
    except KeyboardInterrupt:
        print("Stopped. What is done is kept; the next run goes on.", file=sys.stderr)
        return STOPPED
    except Exception:
        return _our_fault(showing)


def _bad_input(error: Exception, showing: Showing) -> int:
    """Say what was wrong; a reader of our output that went away is nobody's fault."""
    if isinstance(error, BrokenPipeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    if isinstance(error, OSError):
        place, found = str(error.filename or ""), error.strerror or str(error)
        error = StillroomError("file", place=place, found=found, expected="a place to read and write")
    elif not isinstance(error, StillroomError):
        words = " ".join(str(error).split()) or type(error).__name__
        error = StillroomError("command line", found=words, expected="stillroom --help")
    show_error(error, showing)
    return BAD_INPUT


def _our_fault(showing: Showing) -> int:
    """Say that it is our fault, with a report to send; nothing of the lab's data is in it."""
    report = traceback.format_exc()
    error = StillroomError(
        "Stillroom itself", found="a fault of ours, not yours", expected="please send the report below"
    )
    show_error(error, showing)
    print(report, file=sys.stderr)
    return OUR_FAULT
