"""Cuts the typeface into a folder: `python -m monitor.typeface FOLDER`. The page runs this as a child, niced."""

import fcntl
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.typeface.family import family_folder
from monitor.typeface.kept_cuts import KeptCuts
from monitor.typeface.web_cuts import CUTS, can_cut, make_cut


def main(folder: Path) -> int:
    """Make all cuts and keep them; return 0, or 1 with the reason on stderr."""
    source = family_folder()
    if source is None or not can_cut():
        print("the packages fontpkg-literata, fonttools and brotli are needed", file=sys.stderr)
        return 1
    if hasattr(os, "nice"):
        os.nice(10)  # readings and messages go first
    try:
        kept = KeptCuts(folder, {})
        with _alone(folder):
            # Another yard's child may have made them while this one waited.
            if not kept.found():
                kept.keep({cut.name: make_cut(cut, source) for cut in CUTS})
    except OSError as fault:
        print(f"the folder {folder} cannot be written ({fault.strerror})", file=sys.stderr)
        return 1
    return 0


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Wait until no other child works in the folder; the lock ends with this process."""
    folder.mkdir(parents=True, exist_ok=True)
    descriptor = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
