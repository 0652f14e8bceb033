"""Stillroom: from the raw exports of a fan bench to charts that a laboratory would defend in public."""

import os

# One thread for linear algebra, told before NumPy is loaded: several threads part a sum differently, and the
# same readings would give other last bits here than in a worker process. Cores are used by processes instead.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ[_name] = "1"
