"""What all tests share: how many examples hypothesis tries, a place in memory for files, and the long files first.

`HYPOTHESIS_PROFILE` chooses a profile:

- `ci`, where `CI` is set: the same examples each time, so that a landing never hangs on luck, and a fifth of them.
- `here`, elsewhere: new examples each time; what they find is mended and kept as a test of its own.
- `nightly`: as `here`, with forty times as many of each law, and the files that take minutes (`BY_NIGHT`).
- `mutants`: the same examples each time, all of them, and the first failure is enough (`python -m tests.mutants`).
"""

import atexit
import contextlib
import importlib
import os
import shutil
import sys
import tempfile
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings
from xdist.scheduler import LoadFileScheduling

NIGHTLY = 40
"""How many times as many examples a night tries."""

LANDING = 0.2
"""What part of the examples a landing tries; with all of them, laws take a quarter of its time."""

MEMORY = Path("/dev/shm")  # noqa: S108 - each run makes folders of its own there
ROOMY = 2 << 30
"""Bytes free, from which on the tests' files go into memory. They take about 100 MB."""

ON_THE_DEMO = {
    "test_page_browser.py": "on a demo",
    "test_page_gate_browser.py": "on a demo",
    "test_page_layout_browser.py": "on a demo",
    "test_page_access_browser.py": "on another demo",
    "test_page_hands_browser.py": "on another demo",
    "test_page_photo_browser.py": "on another demo",
}
"""Files that share what takes long to make, the demo's weekend: one worker runs all files of a demo.

One demo would serve them all, but its worker would still be at it when all others have ended.
"""

LONG = (
    "test_daemon_kill.py",
    "test_campaign.py",
    *ON_THE_DEMO,
    "test_demo.py",
    "test_daemon_links.py",
    "test_first_yard.py",
    "test_tuning_worth.py",
)
"""Files that take longest: begun last, the other workers would have to wait for them."""

BY_NIGHT = (
    "test_tuning_worth.py",
    "test_sixteen_days_by_hand.py",
    "test_page_story_browser.py",
    "test_page_mix_browser.py",
    "test_first_yard.py",
    "test_running_page.py",
)
"""Files of which each takes minutes of a core: the nightly profile runs them, so that a landing need not wait for them."""

settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("here"), derandomize=True, max_examples=round(100 * LANDING))
settings.register_profile("nightly", settings.get_profile("here"), max_examples=100 * NIGHTLY)
settings.register_profile(
    "mutants", settings.get_profile("here"), derandomize=True, phases=[Phase.explicit, Phase.generate]
)
PARTS = {"ci": LANDING, "nightly": NIGHTLY}
FEWEST = 4
"""No law is tried with fewer examples than this."""
PROFILE = os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "here")
settings.load_profile(PROFILE)

# Every turn of a journal waits for the disk; no test pulls the plug, so no test learns anything from that wait.
if "TMPDIR" not in os.environ and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOMY:
    os.environ["PYTEST_DEBUG_TEMPROOT"] = tempfile.tempdir = str(MEMORY)

# One cutting of the typeface serves all the pages that a run starts; each takes seconds of a core.
if "PYTEST_XDIST_WORKER" not in os.environ and "HEAPTENDER_TYPEFACE" not in os.environ:
    os.environ["HEAPTENDER_TYPEFACE"] = tempfile.mkdtemp(prefix="heaptender-typeface-")
    atexit.register(shutil.rmtree, os.environ["HEAPTENDER_TYPEFACE"], ignore_errors=True)

# The tests start the program hundreds of times, and every worker loads all of them: what is compiled once must be kept.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False


class _ByFile(LoadFileScheduling):
    """Gives a file to one worker, all files on a demo to one, and all rules, which read the same source, to one."""

    def _split_scope(self, nodeid):
        file = super()._split_scope(nodeid)
        return "rules" if "/rules/" in file else ON_THE_DEMO.get(Path(file).name, file)


def pytest_sessionstart(session):
    """Let each worker import its share of the test files first, so that together they compile each once.

    Otherwise all begin with the same file, and in a fresh clone each of them compiles all files, half a minute of a core.
    """
    worker = getattr(session.config, "workerinput", None)
    if worker is None:
        return
    asked = [Path(session.config.invocation_params.dir, arg.split("::")[0]) for arg in session.config.args]
    files = sorted({file for path in asked for file in ([path] if path.is_file() else path.rglob("test_*.py"))})
    own, all_ = int(worker["workerid"].removeprefix("gw")), worker["workercount"]
    for file in files[own::all_]:
        if (file.parent / "__init__.py").exists():
            continue
        if str(file.parent) not in sys.path:
            sys.path.insert(0, str(file.parent))
        # What is wrong with a file is said when pytest collects it.
        with contextlib.suppress(BaseException):
            importlib.import_module(file.stem)


def pytest_xdist_make_scheduler(config, log):
    return _ByFile(config, log) if config.getvalue("dist") == "loadfile" else None


def pytest_collection_modifyitems(config, items):
    """Begin with the long files, those of the night left out unless they are asked for alone.

    At night try more of each law, and on a landing fewer, also of one that says itself how many it tries.
    """
    if PROFILE != "nightly" and len({item.path for item in items}) > 1:
        left = [item for item in items if item.path.name in BY_NIGHT]
        config.hook.pytest_deselected(items=left)
        items[:] = [item for item in items if item.path.name not in BY_NIGHT]
    items.sort(key=lambda item: LONG.index(item.path.name) if item.path.name in LONG else len(LONG))
    if PROFILE in PARTS:
        for law in {getattr(item.obj, "__func__", item.obj) for item in items if hasattr(item, "obj")}:
            own = getattr(law, "_hypothesis_internal_use_settings", None)
            if own is not None and own.max_examples != settings().max_examples:
                examples = max(FEWEST, round(PARTS[PROFILE] * own.max_examples))
                law._hypothesis_internal_use_settings = settings(
                    own, max_examples=examples, derandomize=PROFILE == "ci"
                )
