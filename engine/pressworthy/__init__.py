"""Checks and prepares pictures for print against a publisher's house standard."""

import os

# numpy's products are small here: threads for them take more time than they save
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
