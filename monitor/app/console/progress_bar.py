"""Shows a progress bar on stderr, only on a terminal and only if the work takes more than a second."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol


class Shown(Protocol):
    """Receives how far the work has come."""

    def __call__(self, done: int, total: int, /) -> None:
        """Say that `done` of `total` are done; a total of 0 is not known."""


@contextmanager
def progress_bar(what: str) -> Iterator[Shown]:
    """Show how far the work has come, after the first second."""
    if not sys.stderr.isatty():
        yield lambda done, total: None  # noqa: ARG005 (no terminal, so nothing to show)
        return
    begun = time.monotonic()
    bar: Any = None
    task: Any = None

    def show(done: int, total: int) -> None:
        nonlocal bar, task
        if bar is None and time.monotonic() - begun < 1.0:
            return
        if bar is None:
            from rich.console import Console  # noqa: PLC0415 (loaded only on a terminal)
            from rich.progress import Progress  # noqa: PLC0415

            bar = Progress(console=Console(stderr=True), transient=True)
            bar.start()
            task = bar.add_task(what, total=total or None)
        bar.update(task, completed=done, total=total or None)

    try:
        yield show
    finally:
        if bar is not None:
            bar.stop()
