"""Says in one sentence what to install where a library that certificates need is missing."""

from collections.abc import Iterator
from contextlib import contextmanager

from monitor.model.errors import UnavailableError

INSTALL = "install Heaptender with its extra `certificate` (pip install 'heaptender[certificate]')"


@contextmanager
def needing() -> Iterator[None]:
    """Turn a missing library into a sentence.

    Raises:
        UnavailableError: An import inside failed.
    """
    try:
        yield
    except ImportError as fault:
        missing = fault.name or "a library"
        raise UnavailableError(f"Certificates need {missing}, which is not installed: {INSTALL}.") from fault
