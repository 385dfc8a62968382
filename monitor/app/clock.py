"""The clock that everything is handed: wall time carried forward on the monotonic clock, and suspicious of jumps.

1. Between looks at the wall clock, time is what the monotonic clock says has passed. It never runs backward.
2. The wall clock is followed while it differs by at most 2 min; a small move backward is waited out.
3. A larger difference is a jump: it is told, not followed, until the wall clock has agreed for 10 min with the system's
   synchronised state or with probes that have clocks of their own.
4. At boot the clock is unconfirmed unless the system says that it is synchronised. While unconfirmed, no reading is
   judged to be ahead of its time.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from monitor.model.times import MINUTE_MS

JUMP_MS = 2 * MINUTE_MS
AGREE_MS = 10 * MINUTE_MS
PROBE_AGREES_MS = 5 * MINUTE_MS


class Clock(Protocol):
    """What the shell asks of a clock; every call may come from any thread."""

    def now_ms(self) -> int:
        """Return the time, UTC ms; it never goes back."""

    def monotonic_s(self) -> float:
        """Return seconds on a clock that only measures spans."""

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many real seconds to wait for an instant; 0 if it is past."""


@dataclass(frozen=True, slots=True)
class ClockNews:
    """Something to record as a `clock` event: state `confirmed`, `unconfirmed` or `jumped`, and by how much."""

    state: str
    by_ms: int


def system_synchronised() -> bool | None:
    """Return whether the system says its clock is synchronised; None where it does not say."""
    marker = Path("/run/systemd/timesync/synchronized")
    if marker.exists():
        return True
    return False if marker.parent.exists() else None


class YardClock:
    """The daemon's clock. `look` is called about once a second, by one thread; it returns what is to be recorded."""

    def __init__(
        self,
        wall_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
        monotonic_s: Callable[[], float] = time.monotonic,
        synchronised: Callable[[], bool | None] = system_synchronised,
    ) -> None:
        self._wall = wall_ms
        self._monotonic = monotonic_s
        self._synchronised = synchronised
        self._base_ms = wall_ms()
        self._base_s = monotonic_s()
        self._floor_ms = 0
        self._agreed_since_s: float | None = None
        self._probes_agreed_s: float | None = None
        self.confirmed = synchronised() is True
        self.jumped_by_ms = 0

    def now_ms(self) -> int:
        """Return the time, UTC ms; it never goes back."""
        now = self._base_ms + int((self._monotonic() - self._base_s) * 1000)
        self._floor_ms = max(self._floor_ms, now)
        return self._floor_ms

    def monotonic_s(self) -> float:
        """Return seconds on the monotonic clock."""
        return self._monotonic()

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many seconds to wait for an instant; 0 if it is past."""
        return max(0.0, (instant_ms - self.now_ms()) / 1000)

    def probe_says(self, time_ms: int) -> None:
        """Note a reading that carried its own time and has just arrived: does it agree with the wall clock?"""
        if abs(time_ms - self._wall()) <= PROBE_AGREES_MS:
            self._probes_agreed_s = self._monotonic()

    def look(self) -> list[ClockNews]:
        """Compare with the wall clock; follow it, or tell of a jump, or tell that it is confirmed."""
        wall, mono = self._wall(), self._monotonic()
        drift = wall - (self._base_ms + int((mono - self._base_s) * 1000))
        news: list[ClockNews] = []
        if abs(drift) <= JUMP_MS:
            self._base_ms, self._base_s = wall, mono
            if self.jumped_by_ms:
                # It came back by itself: there is nothing left to wait for.
                self.jumped_by_ms = 0
                self.confirmed = True
                return [ClockNews("confirmed", 0)]
        elif not self.jumped_by_ms or abs(drift - self.jumped_by_ms) > JUMP_MS:
            self.jumped_by_ms, self.confirmed, self._agreed_since_s = drift, False, None
            self._probes_agreed_s = None
            return [ClockNews("jumped", drift)]
        if not self.confirmed and self._has_agreed(mono):
            self._base_ms, self._base_s = wall, mono
            self.confirmed, followed, self.jumped_by_ms = True, self.jumped_by_ms, 0
            news.append(ClockNews("confirmed", followed))
        return news

    def _has_agreed(self, mono: float) -> bool:
        by_probes = self._probes_agreed_s is not None and mono - self._probes_agreed_s < AGREE_MS / 1000
        if not by_probes and self._synchronised() is not True:
            self._agreed_since_s = None
            return False
        if self._agreed_since_s is None:
            self._agreed_since_s = mono
        return mono - self._agreed_since_s >= AGREE_MS / 1000


class ScaledClock:
    """A clock that starts at an instant of one's choice and runs faster than the real one (the demo's)."""

    def __init__(self, start_ms: int, scale: float, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic_s
        # One value, so that another thread never sees a new pace with an old beginning.
        self._run = (start_ms, monotonic_s(), scale)
        self.confirmed = True

    def now_ms(self) -> int:
        """Return the scaled time, UTC ms."""
        start_ms, begun_s, scale = self._run
        return start_ms + int((self._monotonic() - begun_s) * 1000 * scale)

    def go_on(self, scale: float) -> None:
        """Go on from now at another pace."""
        self._run = (self.now_ms(), self._monotonic(), scale)

    def monotonic_s(self) -> float:
        """Return seconds on the real monotonic clock."""
        return self._monotonic()

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many real seconds to wait for a scaled instant."""
        return max(0.0, (instant_ms - self.now_ms()) / 1000 / self._run[2])

    def probe_says(self, time_ms: int) -> None:
        """Take no notice: a scaled clock is right by definition."""

    def look(self) -> list[ClockNews]:
        """Return nothing: a scaled clock does not jump."""
        return []
