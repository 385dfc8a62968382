"""What all tests share: in CI hypothesis takes the same examples each time, so that a landing never hangs on luck.

On a developer's machine the examples are new each time; what they find is mended and kept as a test of its own.
"""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("ci" if os.environ.get("CI") else "here")
