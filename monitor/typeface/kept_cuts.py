"""Keeps the cuts for browsers in a folder, and has them made by a child process where they are missing."""

import logging
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping
from pathlib import Path

from monitor.typeface.web_cuts import CUTS, recipe

log = logging.getLogger("heaptender.typeface")
_LONGEST_S = 600
"""Longest time for the cutting; a small computer takes half a minute."""


VARIABLE = "HEAPTENDER_TYPEFACE"
"""Names a folder for the cuts of all yards of a computer; without it each yard keeps its own."""


class KeptCuts:
    """The cuts of one yard, or those of all yards of this computer where `VARIABLE` names a folder for them."""

    def __init__(self, folder: Path, environment: Mapping[str, str] | None = None) -> None:
        """Find the folder.

        Args:
            folder: The yard's own folder for them.
            environment: The environment's variables; None: those of this process.
        """
        shared = (os.environ if environment is None else environment).get(VARIABLE)
        self._folder = Path(shared) if shared else folder

    def found(self) -> dict[str, bytes]:
        """Return the kept cuts by name; {} if any is missing, or they were made of something else."""
        name = recipe()
        if not name:
            return {}
        try:
            return {cut.name: (self._folder / name / f"{cut.name}.woff2").read_bytes() for cut in CUTS}
        except OSError:
            return {}

    def give(self, take: Callable[[Mapping[str, bytes]], None]) -> threading.Thread | None:
        """Hand over the cuts: now if they are kept, else once a child has made them; never if they cannot be made.

        Returns:
            The thread that waits for the child; None if there is nothing to wait for.
        """
        kept = self.found()
        if kept:
            take(kept)
            return None
        if not recipe():
            return None
        waiting = threading.Thread(target=self._make_and_give, args=(take,), name="typeface", daemon=True)
        waiting.start()
        return waiting

    def _make_and_give(self, take: Callable[[Mapping[str, bytes]], None]) -> None:
        words = [sys.executable, "-m", "monitor.typeface", str(self._folder)]
        try:
            done = subprocess.run(words, capture_output=True, timeout=_LONGEST_S, check=False)  # noqa: S603 - our own program
        except (OSError, subprocess.SubprocessError) as fault:
            log.info("The typeface could not be cut (%s); the page is shown in the reader's own serif", fault)
            return
        kept = self.found()
        if kept:
            take(kept)
        else:
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            why = said[-1] if said else "no reason was given"
            log.info("The typeface could not be cut (%s); the page is shown in the reader's own serif", why)

    def keep(self, cuts: Mapping[str, bytes]) -> None:
        """Put cuts into the folder, whole or not at all, and drop those of other recipes.

        Raises:
            OSError: The folder cannot be written.
        """
        name = recipe()
        fresh = self._folder / f"{name}.new"
        shutil.rmtree(fresh, ignore_errors=True)
        fresh.mkdir(parents=True)
        for cut, data in cuts.items():
            (fresh / f"{cut}.woff2").write_bytes(data)
        shutil.rmtree(self._folder / name, ignore_errors=True)
        fresh.rename(self._folder / name)
        for other in self._folder.iterdir():
            if other.is_dir() and other.name != name:
                shutil.rmtree(other, ignore_errors=True)
