"""Evenhand: the bench book of the independent PC hardware reviewer."""

import os

# numpy and scipy each carry an OpenBLAS; two thread pools fight over few cores
# (decisions.md, "One BLAS thread"). Must happen before numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
