"""Runs tests in a child, with or without a mutant in place of its module; nothing on the disk is changed.

The parent has loaded pytest and the libraries, never the program: a child is a fork of it, loads the program afresh with the
mutant in it, and is done in little more time than the tests take. A process that a test starts has no mutant in it.
"""

import importlib.util
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from importlib.machinery import ModuleSpec, SourceFileLoader
from pathlib import Path
from types import CodeType
from typing import Any

import pytest

MEMORY = 4 << 30
"""Bytes that a child may take: a mutant may ask for the world."""

_LOOK_S = 0.02


def in_child(work: Callable[[], int], limit_s: float) -> int | None:
    """Return what a piece of work returns in a fork, or None if it took longer than its limit or was killed."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
            code = int(work())
        finally:
            os._exit(code)
    ends = time.monotonic() + limit_s
    done, status = os.waitpid(child, os.WNOHANG)
    while not done and time.monotonic() < ends:
        time.sleep(_LOOK_S)
        done, status = os.waitpid(child, os.WNOHANG)
    # Its own group: also what its tests started goes.
    with suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if not done:
        os.waitpid(child, 0)
        return None
    return os.waitstatus_to_exitcode(status)


def run_pytest(words: Sequence[str], plugin: object) -> int:
    """Run pytest in this process and return its exit code."""
    os.environ |= {"HYPOTHESIS_PROFILE": "mutants", "OPENBLAS_NUM_THREADS": "1"}
    quiet = ["-q", "-x", "-p", "no:cacheprovider", "--tb=no", "-W", "ignore::pytest.PytestAssertRewriteWarning"]
    # A test that is watched takes several times as long, and longer still on a busy machine; the parent sets the limit.
    quiet += ["--timeout", "0"]
    return int(pytest.main([*quiet, *words], plugins=[plugin]))


def survives(path: Path, module: str, code: CodeType, tests: Sequence[str], files: Sequence[str]) -> int:
    """Run tests with a module's code replaced, until one fails; for a child.

    Args:
        path: The module's file.
        module: The module's full name.
        code: The code to run in place of what the file holds.
        tests: The ids of the tests, in the order to run.
        files: The files that these tests stand in.

    Returns:
        pytest's exit code: 0 where no test noticed.
    """
    sys.meta_path.insert(0, _InPlace(path, module, code))
    return run_pytest(files, _Chosen(tests))


class _Loader(SourceFileLoader):
    def __init__(self, module: str, path: Path, code: CodeType) -> None:
        super().__init__(module, str(path))
        self._code = code

    def get_code(self, fullname: str) -> CodeType:
        return self._code


class _InPlace:
    """A finder that gives one module other code."""

    def __init__(self, path: Path, module: str, code: CodeType) -> None:
        self._path, self._module, self._code = path, module, code

    def find_spec(self, name: str, path: object = None, target: object = None) -> ModuleSpec | None:
        if name != self._module:
            return None
        return importlib.util.spec_from_file_location(name, self._path, loader=_Loader(name, self._path, self._code))


class _Chosen:
    """A plugin of pytest that runs the chosen tests alone, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self._order = {name: number for number, name in enumerate(tests)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        items[:] = sorted((one for one in items if one.nodeid in self._order), key=lambda one: self._order[one.nodeid])
