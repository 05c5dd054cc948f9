"""Evaluation of the diagnosis engine on vehicles that are not its own model."""

import os

# Small matrices on every core already: threads of the linear algebra would only fight one another.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
