"""The fault campaign: rounds from a seed against the real daemon in a process of its own, with real parts around it.

Beside the simulation, which has everything on one thread, this meets real threads, SIGKILL, a real broker, mail, HTTP and a
real disk. `python -m tests.faults campaign` runs it.
"""

import sys
from pathlib import Path

# The helpers of tests/io know one another by their bare names.
_HELPERS = str(Path(__file__).parents[2] / "io")
if _HELPERS not in sys.path:
    sys.path.append(_HELPERS)
