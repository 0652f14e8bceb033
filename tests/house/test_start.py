"""The first start: readable by every Python 3, pip's settings handed on, nothing done when all is there."""

from __future__ import annotations

import ast
import importlib.util
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ("boot.lock", "requirements.lock", "requirements-test.lock")


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The start of a project that lies in an empty folder."""
    spec = importlib.util.spec_from_file_location("start_under_test", ROOT / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in LOCKS:
        (tmp_path / name).write_text(f"# {name}\n", encoding="utf-8")
    boot = tmp_path / ".boot"
    monkeypatch.setattr(module, "ROOT", str(tmp_path))
    monkeypatch.setattr(module, "BOOT", str(boot))
    monkeypatch.setattr(module, "BOOT_LOCK", str(tmp_path / "boot.lock"))
    monkeypatch.setattr(module, "LOG", str(boot / "set-up.log"))
    monkeypatch.setattr(module, "FOR_VERBS", (str(tmp_path / ".venv"), str(tmp_path / "requirements.lock")))
    monkeypatch.setattr(
        module, "FOR_TESTS", (str(tmp_path / ".venv-test"), str(tmp_path / "requirements-test.lock"))
    )
    return module


def test_every_python_3_can_read_the_start() -> None:
    ast.parse((ROOT / "start.py").read_text(encoding="utf-8"), feature_version=(3, 4))


def test_the_start_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse((ROOT / "start.py").read_text(encoding="utf-8"))
    names = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    names += [str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert {name.split(".")[0] for name in names} <= set(sys.stdlib_module_names)


def test_an_older_python_is_told_what_is_needed(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 10, 13, "final", 0))
    assert start.main(["demo"]) == 2
    assert "3.11 or newer is needed, this is 3.10" in capsys.readouterr().err


# ---- What is run --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["demo"], ["-P", "-m", "stillroom", "demo", "demo-lab"]),
        (["demo", "--full"], ["-P", "-m", "stillroom", "demo", "demo-lab", "--full"]),
        (["demo", "elsewhere"], ["-P", "-m", "stillroom", "demo", "elsewhere"]),
        (["rank", "free", "--json"], ["-P", "-m", "stillroom", "rank", "free", "--json"]),
        (["test", "-k", "air"], ["-m", "pytest", "-n", "2", "--dist", "worksteal", "-k", "air"]),
        (["check"], [str(Path("tools", "check.py"))]),
    ],
)
def test_each_word_leads_to_its_command(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, words: list[str], expected: list[str]
) -> None:
    ran: list[tuple[str, list[str]]] = []
    monkeypatch.setattr(start, "ready", lambda folder, lock: f"python of {Path(folder).name}")
    monkeypatch.setattr(start, "run", lambda python, rest, folder: ran.append((python, rest)) or 7)
    assert start.main(words) == 7
    assert ran == [(f"python of {'.venv-test' if words[0] in ('test', 'check') else '.venv'}", expected)]


def test_without_a_word_the_usage_is_shown(start: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    assert start.main([]) == 2
    assert "python3 start.py demo" in capsys.readouterr().out


# ---- When the set-up runs -----------------------------------------------------------------------------


def make_environment(start: ModuleType, stamp: str) -> str:
    """A folder that looks like an environment with this stamp."""
    folder = Path(start.FOR_VERBS[0])
    python = Path(start.python_in(str(folder)))
    python.parent.mkdir(parents=True)
    python.touch()
    (folder / start.STAMP).write_text(stamp, encoding="utf-8", newline="\n")
    return str(python)


def set_ups(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Ask for the environment of the verbs; tell which set-ups that led to."""
    made: list[str] = []
    monkeypatch.setattr(start, "set_up", lambda folder, lock, wanted: made.append(wanted))
    start.ready(*start.FOR_VERBS)
    return made


def test_nothing_is_called_when_the_stamp_fits(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    python = make_environment(start, start.stamp(start.FOR_VERBS[1]))
    assert set_ups(start, monkeypatch) == []
    assert start.ready(*start.FOR_VERBS) == python


@pytest.mark.parametrize("lock", ["boot.lock", "requirements.lock"])
def test_a_changed_lock_sets_up_again(start: ModuleType, monkeypatch: pytest.MonkeyPatch, lock: str) -> None:
    make_environment(start, start.stamp(start.FOR_VERBS[1]))
    (Path(start.ROOT) / lock).write_text("# changed\n", encoding="utf-8")
    assert len(set_ups(start, monkeypatch)) == 1


def test_another_python_or_machine_sets_up_again(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    make_environment(start, start.stamp(start.FOR_VERBS[1]))
    monkeypatch.setattr("importlib.machinery.EXTENSION_SUFFIXES", [".cpython-399-elsewhere.so"])
    assert len(set_ups(start, monkeypatch)) == 1


def test_a_missing_python_sets_up_again(start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    Path(make_environment(start, start.stamp(start.FOR_VERBS[1]))).unlink()
    assert len(set_ups(start, monkeypatch)) == 1


def test_the_ends_of_a_locks_lines_make_no_difference(start: ModuleType) -> None:
    before = start.hash_of(start.BOOT_LOCK)
    Path(start.BOOT_LOCK).write_bytes(Path(start.BOOT_LOCK).read_bytes().replace(b"\n", b"\r\n"))
    assert start.hash_of(start.BOOT_LOCK) == before


# ---- What goes wrong ----------------------------------------------------------------------------------


def test_no_pip_is_one_sentence(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(start, "succeeds", lambda command, surroundings: False)
    assert start.main(["rank"]) == 2
    said = capsys.readouterr().err.splitlines()
    assert "this Python has no pip" in said[-1]
    assert not Path(start.FOR_VERBS[0]).exists()


def test_no_network_is_one_sentence_and_leaves_nothing_behind(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(start, "succeeds", lambda command, surroundings: "--version" in command)
    assert start.main(["rank"]) == 2
    assert "check the network connection" in capsys.readouterr().err.splitlines()[-1]
    assert sorted(each.name for each in Path(start.BOOT).iterdir()) == ["lock", "set-up.log"]


def test_a_missing_lock_is_one_sentence(start: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    Path(start.BOOT_LOCK).unlink()
    assert start.main(["rank"]) == 2
    assert "boot.lock is missing" in capsys.readouterr().err


def test_leftovers_of_a_start_that_was_cut_off_are_swept(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    (Path(start.BOOT) / "new-cut" / "environment").mkdir(parents=True)
    monkeypatch.setattr(start, "succeeds", lambda command, surroundings: False)
    with pytest.raises(start.StartError):
        start.set_up(*start.FOR_VERBS, "stamp")
    assert not (Path(start.BOOT) / "new-cut").exists()


# ---- pip's settings in uv's words ---------------------------------------------------------------------

LISTED = """\
:env:.disable-pip-version-check='1'
:env:.index-url='file:///mirror/simple'
global.cert='certificates/all.pem'
global.constraint='constraints.txt'
global.extra-index-url='file:///one file:///two'
global.find-links='wheels\\nmore'
global.index-url='file:///not-this'
global.timeout='60'
install.timeout='90'
list.timeout='1'
global.trusted-host='a.invalid b.invalid'
global.proxy='proxy.invalid:3128'
a line that is none
"""


def test_pips_settings_are_read_in_its_order_of_precedence(start: ModuleType) -> None:
    found = start.read_pip_settings(LISTED)
    assert found["index-url"] == "file:///mirror/simple"
    assert found["timeout"] == "90"
    assert found["find-links"] == "wheels\nmore"


def test_pips_settings_become_uvs(start: ModuleType) -> None:
    assert start.uv_settings(start.read_pip_settings(LISTED)) == {
        "UV_DEFAULT_INDEX": "file:///mirror/simple",
        "UV_INDEX": "file:///one file:///two",
        "UV_FIND_LINKS": f"{Path('wheels').absolute()},{Path('more').absolute()}",
        "UV_INSECURE_HOST": "a.invalid b.invalid",
        "UV_HTTP_TIMEOUT": "90",
        "SSL_CERT_FILE": str(Path("certificates/all.pem").absolute()),
        "ALL_PROXY": "proxy.invalid:3128",
    }


def test_a_machine_without_settings_hands_on_none(start: ModuleType) -> None:
    assert start.uv_settings(start.read_pip_settings("")) == {}


def test_uvs_own_settings_go_first_and_what_would_change_the_outcome_is_left_out(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("UV_DEFAULT_INDEX", "file:///chosen")
    monkeypatch.setenv("UV_CONSTRAINT", "constraints.txt")
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    told = start.uv_surroundings({"index-url": "file:///mirror", "timeout": "60"})
    assert told["UV_DEFAULT_INDEX"] == "file:///chosen"
    assert told["UV_PYTHON_DOWNLOADS"] == "never"
    assert not {"UV_CONSTRAINT", "PYTHONPATH"} & told.keys()


# ---- The locks ----------------------------------------------------------------------------------------


def pins(lock: str) -> dict[str, str]:
    """Each requirement of a lock, `name==version` with its marker, and the text up to the next one."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    pieces = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
    return {piece.split(" \\")[0]: piece for piece in pieces}


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_pins_by_hash_and_names_no_place(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    assert "://" not in text
    assert not re.search(r"(^|\s)(/|[A-Z]:\\|--(extra-)?index|--find-links)", text, flags=re.MULTILINE)
    found = pins(lock)
    assert found
    for requirement, piece in found.items():
        assert re.match(r"[a-z0-9.-]+==\S+", requirement)
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", piece), requirement


def test_the_test_lock_holds_all_that_the_other_lock_holds() -> None:
    small, large = (
        {pin.split(" ;")[0] for pin in pins(f"requirements{kind}.lock")} for kind in ("", "-test")
    )
    assert small <= large


def test_a_start_that_is_not_the_first_is_quick_to_hand_over(tmp_path: Path) -> None:
    """No timing here: what costs time at a start is what is imported, so that is what is held."""
    code = f"import sys; sys.argv = ['start.py']; import runpy; runpy.run_path({str(ROOT / 'start.py')!r})\n"
    code += "print(*sorted(set(sys.modules) & {'subprocess', 'tempfile', 'shutil', 'json', 'urllib'}))"
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == []
