"""Stillroom: from the raw exports of a fan bench to charts that a laboratory would defend in public.

The verbs are functions of this package (`stillroom.rank(…)`), loaded when first asked for; `stillroom.core`
stands on its own.
"""

import importlib
import importlib.util
import os

# One thread for linear algebra, told before NumPy is loaded: several threads part a sum differently, and the
# same readings would give other last bits here than in a worker process. Cores are used by processes instead.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ[_name] = "1"


def __getattr__(name: str) -> object:
    """A verb by its name; rooms are left to the import system, which asks here first."""
    if not name.startswith("_") and importlib.util.find_spec(f"{__name__}.{name}") is None:
        verbs = importlib.import_module("stillroom.verbs")
        if name.replace("_", "-") in verbs.LISTED:
            return getattr(verbs, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
