"""Start Stillroom with nothing but Python and its pip: set up once, then run.

    python3 start.py demo        an invented laboratory, from raw exports to the first chart (in ./demo-lab)
    python3 start.py test        every test (further words go to pytest)
    python3 start.py check       format, lint, types, the house, the documentation
    python3 start.py VERB ...    any verb of Stillroom; --help lists them

On Windows: py start.py ... The first start fetches what the lock files pin, by hash, into .boot and .venv;
later starts fetch nothing. To begin again from nothing, delete those two folders (and .venv-test).

Standard library only, and written so that every Python 3 can read it far enough to say what is needed.
"""

import os
import sys

NEEDED = (3, 11)
WINDOWS = os.name == "nt"
ROOT = os.path.dirname(os.path.abspath(__file__))
BOOT = os.path.join(ROOT, ".boot")
BOOT_LOCK = os.path.join(ROOT, "boot.lock")
LOG = os.path.join(BOOT, "set-up.log")
# What is made: the folder, and the lock file that says what goes into it.
FOR_VERBS = (os.path.join(ROOT, ".venv"), os.path.join(ROOT, "requirements.lock"))
FOR_TESTS = (os.path.join(ROOT, ".venv-test"), os.path.join(ROOT, "requirements-test.lock"))
STAMP = "stillroom-stamp"
# Settings of pip and uv that would change what is installed or where, not from where it is fetched.
NOT_HANDED_ON = frozenset(
    ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV")
    + ("PIP_CONSTRAINT", "PIP_DRY_RUN", "PIP_NO_BINARY", "PIP_REQUIREMENT")
    + ("PIP_PREFIX", "PIP_ROOT", "PIP_TARGET")
    + ("UV_BUILD_CONSTRAINT", "UV_CONSTRAINT", "UV_EXCLUDE_NEWER", "UV_NO_BINARY", "UV_OVERRIDE")
    + ("UV_PROJECT", "UV_PYTHON", "UV_SYSTEM_PYTHON", "UV_WORKING_DIR")
)

NO_FETCH = (
    "could not fetch the packages that it needs; check the network connection (behind a proxy or a mirror, "
    "pip's own settings are used) and start again. Details are in {log}."
)
NO_ENVIRONMENT = (
    "could not make an environment with this Python ({python}); try another Python of 3.11 or newer. "
    "Details are in {log}."
)
NO_PIP = (
    "this Python has no pip; install it (Debian and Ubuntu: apt install python3-pip; elsewhere: "
    "python3 -m ensurepip) and start again."
)


class StartError(Exception):
    """Why the set-up can't be done, in one sentence that says what to do."""


def main(words: "list[str]") -> int:
    """Run one command; give its exit code."""
    if sys.version_info < NEEDED:
        here = "{}.{}".format(*sys.version_info[:2])
        say("Python 3.11 or newer is needed, this is {}; install one and start with it.".format(here))
        return 2
    if not words:
        print(__doc__.strip())
        return 2
    verb, rest = words[0], words[1:]
    try:
        if verb == "test":
            return run(ready(*FOR_TESTS), ["-m", "pytest", "-n", "2", "--dist", "worksteal"] + rest, ROOT)
        if verb == "check":
            return run(ready(*FOR_TESTS), [os.path.join("tools", "check.py")] + rest, ROOT)
        if verb == "demo" and all(word.startswith("-") for word in rest):
            rest = ["demo-lab"] + rest
        return run(ready(*FOR_VERBS), ["-P", "-m", "stillroom", verb] + rest, None)
    except StartError as why:
        say(str(why))
        return 2
    except KeyboardInterrupt:
        return 130


def run(python: str, words: "list[str]", folder: "str | None") -> int:
    """Hand over to the environment's Python; its exit code becomes ours."""
    surroundings = clean(os.environ)
    surroundings.setdefault("PYTHONUTF8", "1")
    if words[:2] == ["-m", "pytest"]:  # two test processes on two cores: one BLAS thread each
        surroundings.setdefault("OMP_NUM_THREADS", "1")
        surroundings.setdefault("OPENBLAS_NUM_THREADS", "1")
    if folder:
        os.chdir(folder)
    sys.stdout.flush()
    sys.stderr.flush()
    if WINDOWS:
        import subprocess

        return subprocess.call([python] + words, env=surroundings)
    return os.execve(python, [python] + words, surroundings)


def clean(surroundings: "os._Environ[str]") -> "dict[str, str]":
    """The environment variables without those that would lead a fresh environment astray."""
    return {name: value for name, value in surroundings.items() if name not in NOT_HANDED_ON}


# ---- Is it all there? (every start) -------------------------------------------------------------------


def ready(folder: str, lock: str) -> str:
    """The Python of an environment that holds exactly what the lock says; made when it isn't there."""
    wanted = stamp(lock)
    if not is_ready(folder, wanted):
        try:
            set_up(folder, lock, wanted)
        except OSError as error:
            raise StartError(
                "could not write the environment in {} ({}); see that this folder may be written to, that "
                "the disk isn't full and that no Stillroom is running, and start again.".format(ROOT, error)
            ) from error
    return python_in(folder)


def stamp(lock: str) -> str:
    """What an environment was made from: both locks, the kind of Python, the machine."""
    import importlib.machinery
    import platform

    lines = [importlib.machinery.EXTENSION_SUFFIXES[0], sys.platform, platform.machine()]
    return "\n".join(lines + [hash_of(BOOT_LOCK), hash_of(lock)]) + "\n"


def hash_of(path: str) -> str:
    """The hash of a lock file, whichever ends its lines have."""
    import hashlib

    try:
        with open(path, "rb") as file:
            return hashlib.sha256(file.read().replace(b"\r\n", b"\n")).hexdigest()
    except OSError:
        raise StartError("{} is missing; fetch the whole project again.".format(path)) from None


def is_ready(folder: str, wanted: str) -> bool:
    """Whether the environment carries the wanted stamp and its Python is still there."""
    try:
        with open(os.path.join(folder, STAMP), encoding="utf-8") as file:
            return file.read() == wanted and os.path.exists(python_in(folder))
    except OSError:
        return False


def python_in(folder: str) -> str:
    """The path of an environment's Python."""
    return os.path.join(folder, "Scripts", "python.exe") if WINDOWS else os.path.join(folder, "bin", "python")


# ---- Making it (first start, or a changed lock) -------------------------------------------------------


def set_up(folder: str, lock: str, wanted: str) -> None:
    """Make the environment in a temporary folder and put it in its place when it is whole."""
    import shutil
    import sysconfig
    import tempfile

    os.makedirs(BOOT, exist_ok=True)
    with OneAtATime(os.path.join(BOOT, "lock")):
        if is_ready(folder, wanted):  # another start made it while this one waited
            return
        say("setting up {} (once; a few seconds to a minute) ...".format(os.path.basename(folder)))
        for name in os.listdir(BOOT):
            if name.startswith(("new-", "old-")):  # left by a start that was cut off
                shutil.rmtree(os.path.join(BOOT, name), ignore_errors=True)
        with open(LOG, "w", encoding="utf-8"):
            pass
        workplace = tempfile.mkdtemp(prefix="new-", dir=BOOT)
        try:
            pip = pip_settings()
            uv = uv_program()
            new = os.path.join(workplace, "environment")
            surroundings = uv_surroundings(pip)
            making = [uv, "venv", "--quiet", "--no-project", "--relocatable", "--python", base_python(), new]
            must(NO_ENVIRONMENT, making, surroundings)
            sync = [
                uv,
                "pip",
                "sync",
                "--quiet",
                "--require-hashes",
                "--no-build",
                "--python",
                python_in(new),
            ]
            if pip.get("no-index", "").lower() in ("1", "true", "yes", "on"):
                sync.append("--no-index")
            # Where the user names no certificates, those of uv and then, as a recent pip does, the system's.
            must(NO_FETCH, sync + [lock], surroundings, dict(surroundings, UV_SYSTEM_CERTS="true"))
            packages = sysconfig.get_path("purelib", "venv", {"base": new, "platbase": new})
            there = os.path.join(folder, os.path.relpath(packages, new))
            with open(os.path.join(packages, "stillroom-source.pth"), "w", encoding="utf-8") as file:
                file.write(os.path.relpath(os.path.join(ROOT, "src"), there) + "\n")
            with open(os.path.join(new, STAMP), "w", encoding="utf-8", newline="\n") as file:
                file.write(wanted)
            put_in_place(new, folder)
        finally:
            shutil.rmtree(workplace, ignore_errors=True)


def uv_program() -> str:
    """The pinned uv, fetched by pip into .boot when it isn't there."""
    import shutil
    import tempfile

    folder = os.path.join(BOOT, "uv-" + hash_of(BOOT_LOCK)[:12])
    program = os.path.join(folder, "bin", "uv.exe" if WINDOWS else "uv")
    if not os.path.exists(program):
        workplace = tempfile.mkdtemp(prefix="new-", dir=BOOT)
        new = os.path.join(workplace, "uv")
        surroundings = dict(
            clean(os.environ), PIP_USER="0", PIP_REQUIRE_VIRTUALENV="0", PIP_DISABLE_PIP_VERSION_CHECK="1"
        )
        try:
            fetching = [python_with_pip(), "-m", "pip", "install", "--quiet", "--no-input", "--target", new]
            fetching += ["--no-deps", "--only-binary", ":all:", "--require-hashes", "-r", BOOT_LOCK]
            must(NO_FETCH, fetching, surroundings)
            put_in_place(new, folder)
        finally:
            shutil.rmtree(workplace, ignore_errors=True)
    return program


def put_in_place(new: str, folder: str) -> None:
    """Rename a finished folder to its name; what stood there goes."""
    import shutil
    import tempfile

    old = tempfile.mkdtemp(prefix="old-", dir=BOOT)
    if os.path.lexists(folder):
        os.rename(folder, os.path.join(old, "was"))
    os.rename(new, folder)
    shutil.rmtree(old, ignore_errors=True)


def base_python() -> str:
    """The Python that is running, or the one below it when it is itself an environment's."""
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def python_with_pip() -> str:
    """A Python that has pip: the one that is running, else the one below it."""
    for python in (sys.executable, base_python()):
        if succeeds([python, "-m", "pip", "--version"], clean(os.environ)):
            return python
    raise StartError(NO_PIP)


def must(sentence: str, command: "list[str]", *tries: "dict[str, str]") -> None:
    """Run a command in one surrounding after another until it succeeds; when none helps, say the sentence."""
    if not any(succeeds(command, surroundings) for surroundings in tries):
        raise StartError(sentence.format(python=sys.executable, log=LOG))


def succeeds(command: "list[str]", surroundings: "dict[str, str]") -> bool:
    """Run a command quietly, keep what it says in the log, and tell whether it went well."""
    import subprocess

    with open(LOG, "ab") as log:
        try:
            return (
                subprocess.call(
                    command, cwd=ROOT, env=surroundings, stdin=subprocess.DEVNULL, stdout=log, stderr=log
                )
                == 0
            )
        except OSError as error:
            log.write("{}: {}\n".format(command[0], error).encode("utf-8"))
            return False


def say(text: str) -> None:
    """One line on what is going on, beside the command's own output."""
    print("Stillroom: " + text, file=sys.stderr, flush=True)


class OneAtATime:
    """A lock held while the block runs; the system lets go of it when the process ends, however it ends."""

    def __init__(self, path: str) -> None:
        self.path = path

    def __enter__(self) -> None:
        self.file = open(self.path, "a")
        if not self.take(wait=False):
            say("another start is setting up; waiting for it ...")
            while not self.take(wait=True):
                pass

    def take(self, wait: bool) -> bool:
        """Take the lock; without waiting, or after some waiting, tell whether it was to be had."""
        import errno

        try:
            if sys.platform == "win32":
                import msvcrt

                self.file.seek(0)
                msvcrt.locking(self.file.fileno(), msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(self.file, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:  # where a disk has no locks, the rename at the end is guard enough
            return error.errno not in (errno.EAGAIN, errno.EACCES, errno.EDEADLK)
        return True

    def __exit__(self, *error: object) -> None:
        self.file.close()


# ---- Where packages come from: pip's settings, told to uv ---------------------------------------------


def pip_settings() -> "dict[str, str]":
    """What pip's files and environment say, by the name of the option."""
    import subprocess

    try:
        listed = subprocess.check_output(
            [sys.executable, "-m", "pip", "config", "list"], cwd=ROOT, stderr=subprocess.DEVNULL
        )
    except (OSError, subprocess.CalledProcessError):
        return {}
    return read_pip_settings(listed.decode("utf-8", "replace"))


def read_pip_settings(listed: str) -> "dict[str, str]":
    """Read the lines of `pip config list`; the environment goes before [install], that before [global]."""
    import ast

    found = {}
    for section in ("global.", "install.", ":env:."):
        for line in listed.splitlines():
            name, equals, value = line.partition("=")
            if equals and name.startswith(section):
                try:
                    found[name[len(section) :]] = str(ast.literal_eval(value))
                except (ValueError, SyntaxError):
                    continue
    return found


def uv_settings(pip: "dict[str, str]") -> "dict[str, str]":
    """Pip's settings on where and how to fetch, in uv's words (what is installed, the lock alone says)."""
    cert = path_of(pip.get("cert", ""))
    told = {
        "UV_DEFAULT_INDEX": pip.get("index-url", ""),
        "UV_INDEX": " ".join(pip.get("extra-index-url", "").split()),
        "UV_FIND_LINKS": ",".join(path_of(each) for each in pip.get("find-links", "").split()),
        "UV_INSECURE_HOST": " ".join(pip.get("trusted-host", "").split()),
        "UV_HTTP_TIMEOUT": pip.get("timeout") or pip.get("default-timeout", ""),
        "UV_HTTP_RETRIES": pip.get("retries", ""),
        "UV_KEYRING_PROVIDER": "subprocess" if pip.get("keyring-provider") == "subprocess" else "",
        "SSL_CERT_DIR" if os.path.isdir(cert) else "SSL_CERT_FILE": cert,
        "SSL_CLIENT_CERT": path_of(pip.get("client-cert", "")),
        "ALL_PROXY": pip.get("proxy", ""),
    }
    return {name: value for name, value in told.items() if value}


def path_of(text: str) -> str:
    """A path as pip reads it (with ~, from where one stands); an address as it is."""
    return text if "://" in text or not text else os.path.abspath(os.path.expanduser(text))


def uv_surroundings(pip: "dict[str, str]") -> "dict[str, str]":
    """The environment for uv: pip's settings, unless uv's own are set; all indexes looked at, as pip does."""
    surroundings = clean(os.environ)
    # Safe with several indexes, since every file must have the hash that the lock gives.
    surroundings.setdefault("UV_INDEX_STRATEGY", "unsafe-best-match")
    for name, value in uv_settings(pip).items():
        if name.startswith("UV_"):
            surroundings.setdefault(name, value)
        else:
            surroundings[name] = value
    if not os.access(os.path.expanduser("~"), os.W_OK):
        surroundings.setdefault("UV_CACHE_DIR", os.path.join(BOOT, "cache"))
    surroundings["UV_PYTHON_DOWNLOADS"] = "never"
    return surroundings


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
