"""What all tests share: the profiles of hypothesis, and a place in memory for what they write.

`HYPOTHESIS_PROFILE` chooses a profile:

- `ci`, where `CI` is set: the same examples each time, so that a landing never hangs on luck.
- `here`, elsewhere: new examples each time; what they find is mended and kept as a test of its own.
- `mutants`: as `ci`, and the first failure is enough (`python -m tests.mutants`).
"""

import os
import shutil
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings

MEMORY = Path("/dev/shm")
ROOMY = 2 << 30
"""Bytes free, from which on the tests' files go into memory. They take about 100 MB."""

settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("here"), derandomize=True)
settings.register_profile("mutants", settings.get_profile("ci"), phases=[Phase.explicit, Phase.generate])
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "here"))

# Every turn of a journal waits for the disk; no test pulls the plug, so no test learns anything from that wait.
if "TMPDIR" not in os.environ and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOMY:
    os.environ["PYTEST_DEBUG_TEMPROOT"] = tempfile.tempdir = str(MEMORY)
