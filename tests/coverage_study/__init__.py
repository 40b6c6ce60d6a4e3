"""How right Ebbline's figures are, and how often their intervals hold, over simulated sessions.

``python -m tests.coverage_study --help``
"""

import os
import sys
from pathlib import Path

# Many small solves at once: one thread each, set before numpy is loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

_SAMPLES = str(Path(__file__).resolve().parents[2] / "sample_sessions")
if _SAMPLES not in sys.path:
    sys.path.insert(0, _SAMPLES)
