"""Pauses the garbage collector while a whole log is read: its many small parts would be searched again and again."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_search_for_cycles() -> Iterator[None]:
    """Pause the garbage collector; what is in no cycle is freed all the same."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
