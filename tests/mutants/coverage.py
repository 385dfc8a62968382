"""Which test calls which function of the program: what a mutant has to be shown to.

A test is run once and every function that it calls is noted, also those that its fixtures and its file called before it. The
notes of a file of tests are kept in `.mutants/` for as long as neither it nor a helper beside it changes.
"""

import hashlib
import json
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

from tests.mutants.running import in_child, run_pytest

ROOT = Path(__file__).parents[2]
NOTES = ROOT / ".mutants"
_LIMIT_S = 1800.0

_NEAR: dict[str, tuple[str, ...]] = {
    "alarms": ("engine", "notices"),
    "bins": ("engine/test_engine_values",),
    "certificate": ("app/test_cert*",),
    "codec": ("intake",),
    "engine": (
        "app/test_entries_asked",
        "app/test_hand_entries",
        "app/test_upgrade",
        "recordings/test_recordings_pieces",
    ),
    "intake": (
        "io/test_intake_mqtt",
        "io/test_intake_serial",
        "io/test_intake_wrong_clocks",
        "io/test_intake_broker_faults",
    ),
    "conditioning": ("engine",),
    "journal": ("app/test_restore_command",),
    "material": ("piles", "engine/test_engine_heat"),
    "mirror": ("io/test_mirror_servers", "io/test_mirror_check"),
    "notices": ("engine",),
    "outbox": ("io/test_outbox_delivery", "io/test_outbox_mail_faults"),
    "page": ("app/test_page_*",),
    "piles": ("engine",),
    "proof": ("certificate",),
}
"""For a package, what else looks at it closely: other folders of unit tests, single files, `io/` with real parts."""


@dataclass
class Test:
    """A test as it was seen to run.

    Args:
        file: The file it stands in, as a path from the root.
        seconds: How long it took while it was watched.
        functions: The functions that it called, as (path from the root, name).
    """

    __test__ = False
    file: str
    seconds: float
    functions: set[tuple[str, str]] = field(default_factory=set)


def tests_of(package: str, *, own: bool) -> dict[str, Test]:
    """Return the tests that a package's mutants are shown to, by their ids: its own first, then those of its neighbours.

    With `own` they are those of the package's folder alone.
    """
    found: dict[str, Test] = {}
    for near in (package, *(() if own else _NEAR.get(package, ()))):
        folder, _, name = near.partition("/")
        tests = ROOT / "tests" if folder == "io" else ROOT / "tests" / "unit"
        for file in sorted((tests / folder).glob(f"{name or 'test_*'}.py")):
            found |= _noted(file)
    return found


def covering(tests: dict[str, Test], package: str, path: Path, function: str | None) -> list[str]:
    """Return the ids of the tests for a function, or for all of a module, the quickest of those that call it first.

    The other tests of the same files follow: what is made once for several tests is seen in the first alone.
    """
    name = path.relative_to(ROOT).as_posix()
    calling = {
        one for one, test in tests.items() if any(p == name and function in {None, f} for p, f in test.functions)
    }
    files = {tests[one].file for one in calling}
    own = f"tests/unit/{package}/"
    chosen = [one for one, test in tests.items() if test.file in files]
    return sorted(chosen, key=lambda one: (one not in calling, not one.startswith(own), tests[one].seconds, one))


def _noted(file: Path) -> dict[str, Test]:
    digest = hashlib.sha256()
    for helper in sorted(file.parent.glob("*.py")):
        if helper == file or not helper.name.startswith("test_"):
            digest.update(helper.read_bytes())
    kept = NOTES / f"{file.parent.name}-{file.stem}-{digest.hexdigest()[:16]}.json"
    if not kept.exists():
        NOTES.mkdir(exist_ok=True)
        for old in NOTES.glob(f"{file.parent.name}-{file.stem}-*.json"):
            old.unlink()
        if in_child(lambda: run_pytest([str(file)], _Watching(file, kept)), _LIMIT_S) != 0:
            kept.unlink(missing_ok=True)
            raise SystemExit(f"{file.relative_to(ROOT)} fails without any mutant. Mend it first.")
    own = file.relative_to(ROOT).as_posix()
    notes = json.loads(kept.read_text(encoding="utf-8"))
    return {
        name: Test(own, note["seconds"], {(path, function) for path, function in note["functions"]})
        for name, note in notes.items()
    }


class _Watching:
    """A plugin of pytest that notes the functions called by each test, by its fixtures and by its file."""

    def __init__(self, file: Path, kept: Path) -> None:
        self._kept, self._root = kept, str(ROOT / "monitor") + "/"
        self._fresh: set[CodeType] = set()
        self._by_file: set[CodeType] = set()
        self._by_fixture: dict[Any, set[CodeType]] = {}
        self._tests: dict[str, dict[str, Any]] = {}
        threading.settrace(self._note)
        sys.settrace(self._note)

    def _note(self, frame: FrameType, event: str, argument: object) -> None:
        self._fresh.add(frame.f_code)

    def pytest_collection_finish(self) -> None:
        self._by_file, self._fresh = self._fresh, set()

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Iterator[None]:
        outer, self._fresh = self._fresh, set()
        try:
            return (yield)
        finally:
            if fixturedef.scope != "function":
                self._by_fixture.setdefault(fixturedef, set()).update(self._fresh)
            self._fresh |= outer

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Iterator[None]:
        self._fresh, begun = set(), time.monotonic()
        sys.settrace(self._note)
        result = yield
        called = self._fresh | self._by_file
        for definitions in item._fixtureinfo.name2fixturedefs.values():
            for definition in definitions:
                called |= self._by_fixture.get(definition, set())
        self._tests[item.nodeid] = {"seconds": time.monotonic() - begun, "functions": sorted(self._named(called))}
        return result

    def _named(self, called: set[CodeType]) -> set[tuple[str, str]]:
        return {
            (Path(code.co_filename).relative_to(ROOT).as_posix(), code.co_qualname)
            for code in called
            if code.co_filename.startswith(self._root)
        }

    def pytest_sessionfinish(self) -> None:
        sys.settrace(None)
        self._kept.write_text(json.dumps(self._tests), encoding="utf-8")
