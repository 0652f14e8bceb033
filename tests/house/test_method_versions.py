"""Changed code of a method must raise the method's version, or declare that the numbers are the same."""

from __future__ import annotations

import json
import runpy
from pathlib import Path

import pytest

TOOL = runpy.run_path(str(Path(__file__).resolve().parents[2] / "tools" / "method_digests.py"))
DECLARED = json.loads(TOOL["DECLARED"].read_text("utf-8"))
NOW = TOOL["now"]()


@pytest.mark.parametrize("name", sorted(NOW))
def test_a_method_is_as_it_was_declared(name: str) -> None:
    there, here = DECLARED.get(name, {}), NOW[name]
    changed = there.get("digest") != here["digest"]
    raised = there.get("version") != here["version"]
    assert not changed, (
        f"the code of {name!r} changed "
        + (
            "and so did its version: "
            if raised
            else "but not its version: raise it, or, if the numbers are the same, "
        )
        + "declare it with tools/method_digests.py --declare"
    )


def test_a_digest_sees_code_but_not_words() -> None:
    bare = TOOL["bare"]
    assert bare('def f(x):\n    """Words."""\n    return x + 1\n') == bare(
        "def f(x):  # other words\n    return x + 1\n"
    )
    assert bare("def f(x):\n    return x + 1\n") != bare("def f(x):\n    return x + 2\n")
