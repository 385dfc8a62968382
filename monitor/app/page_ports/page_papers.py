"""Makes certificates for the page: the same as `certify` makes, kept in the data folder under the batch's name.

One is made at a time. The daemon's log says who asked for it.
"""

import json
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from monitor.app.yard.certificate_files import FOLDER, NAME, stamp
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.times import parse_time
from monitor.page import Paper, RuleDay

LONGEST_S = 120.0


class BatchPapers:
    """Fills `monitor.page.Certifying`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration], now: Callable[[], int]) -> None:
        self._configuration = configuration
        self._now = now
        self._lock = threading.Lock()

    def papers(self, batch: str) -> Sequence[Paper]:
        """Return the certificates made of a batch, the newest first."""
        folder = self._folder()
        if not folder.is_dir():
            return []
        found = [_paper(path.name) for path in folder.iterdir() if path.name.startswith(f"{batch}.")]
        return sorted((one for one in found if one is not None), key=lambda one: -one.made)

    def make(self, batch: str, by: str) -> Paper:
        """Make a certificate of a batch as it stands.

        Raises:
            MonitorError: It cannot be made; the sentence says why.
        """
        del by
        configuration, now = self._configuration(), self._now()
        if configuration.source is None:
            raise MisuseError("A certificate needs a configuration file; this yard runs without one.")
        folder = self._folder()
        part = folder / f"{batch}.{stamp(now)}.part.pdf"
        with self._lock:
            try:
                folder.mkdir(parents=True, exist_ok=True)
                verdict = _certified(configuration.source, batch, part)
                name = f"{batch}.{stamp(now)}.{verdict.replace(' ', '-')}.pdf"
                part.replace(folder / name)
            except OSError as fault:
                raise UnavailableError(f"The certificate cannot be kept in {folder} ({fault.strerror}).") from fault
            finally:
                part.unlink(missing_ok=True)
        paper = _paper(name)
        assert paper is not None
        return paper

    def days(self, batch: str) -> Sequence[RuleDay]:
        """Return the days of a batch as its certificate would count them now.

        Raises:
            MonitorError: The batch cannot be judged; the sentence says why.
        """
        source = self._configuration().source
        if source is None:
            raise MisuseError("Days are counted with a configuration file; this yard runs without one.")
        with self._lock:
            told = _judged(source, batch)
        return [
            RuleDay(
                parse_time(day["from"]), parse_time(day["to"]), bool(day["counts"]), str(day["kind"]), str(day["why"])
            )
            for day in told["days"]
        ]

    def pdf(self, name: str) -> bytes:
        """Return a certificate's bytes by its name.

        Raises:
            KeyError: There is no certificate of that name.
        """
        if NAME.fullmatch(name) is None:
            raise KeyError(name)
        try:
            return (self._folder() / name).read_bytes()
        except OSError as fault:
            raise KeyError(name) from fault

    def _folder(self) -> Path:
        return self._configuration().data / FOLDER


def _certified(source: Path, batch: str, out: Path) -> str:
    """Have `certify` write a certificate, and return its verdict; *not met yet* for a batch that is under way."""
    told = _judged(source, batch, "--out", str(out))
    verdict = f"{told['verdict']}{' yet' if told['interim'] else ''}"
    if not out.exists():
        raise MisuseError("The certificate could not be made.")
    return verdict


def _judged(source: Path, batch: str, *more: str) -> dict[str, Any]:
    """Have `certify` judge a batch, and return its JSON.

    It runs in a separate process: typesetter, signature and a season of readings take 100 MiB and more, which the process
    returns when it ends, and the daemon's thread is not slowed down.
    """
    words = [sys.executable, "-m", "monitor", "certify", "--config", str(source), "--batch", batch]
    try:
        run = subprocess.run(  # noqa: S603 (our own program; the engine named the batch)
            [*words, *more, "--json"], capture_output=True, text=True, timeout=LONGEST_S, check=False
        )
    except subprocess.TimeoutExpired as fault:
        raise UnavailableError("Making the certificate took too long; try `heaptender certify`.") from fault
    if run.returncode not in (0, 1) or not run.stdout.strip():
        sentence = run.stderr.strip().splitlines()
        raise MisuseError(sentence[-1] if sentence else "The certificate could not be made.")
    found: dict[str, Any] = json.loads(run.stdout)
    return found


def _paper(name: str) -> Paper | None:
    found = NAME.fullmatch(name)
    if found is None:
        return None
    told = found["made"]
    made = parse_time(f"{told[:4]}-{told[4:6]}-{told[6:11]}:{told[11:13]}:{told[13:15]}Z")
    return Paper(name, made, found["verdict"].replace("-", " "))
