"""The clock that the daemon hands to everything: wall time, carried forward by the monotonic clock and wary of jumps.

1. Between looks at the wall clock, time advances with the monotonic clock. It never runs backward.
2. The clock follows the wall clock while they differ by at most 2 min; it waits out a small step backward.
3. A larger difference is a jump. It is reported but not followed until, for 10 min, the wall clock agrees with the system's
   synchronised state or with nodes that have their own clocks.
4. At boot the clock is unconfirmed unless the system says that it is synchronised. While it is unconfirmed, no reading is
   judged to be ahead of time: such readings wait in the journal.
5. If the system says nothing, the nodes' clocks decide (`witnesses`). If this computer is behind them, their time is used from
   then on. If it is ahead, the clock stays, and lateness is judged by the nodes' time. Both are reported until the wall clock
   is put right.
"""

import ctypes
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from monitor.app.loop.witnesses import Timing, Witnesses
from monitor.model.times import MINUTE_MS

JUMP_MS = 2 * MINUTE_MS
AGREE_MS = 10 * MINUTE_MS
LATEST_MS = 2**62
"""No limit to a scaled clock, UTC ms."""
HELD_WAIT_S = 0.01


class Clock(Protocol):
    """The clock as the shell needs it, compared with the wall clock and the nodes; any thread may read it."""

    confirmed: bool

    def now_ms(self) -> int:
        """Return the time, UTC ms; it never goes back."""

    def monotonic_s(self) -> float:
        """Return seconds on a clock that is only good for measuring spans."""

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many real seconds to wait for an instant; 0 if it has passed."""

    @property
    def asks(self) -> bool:
        """Whether the nodes' times are needed now."""

    def look(self) -> "list[ClockNews]":
        """Compare the clock with the wall clock and return the news to record."""

    def believed_ms(self) -> int:
        """Return the best estimate of the time, UTC ms; it may lie before `now_ms`."""

    def probe_says(self, time_ms: int, who: str = "") -> None:
        """Note a probe's own time (UTC ms), and its origin."""


@dataclass(frozen=True, slots=True)
class ClockNews:
    """A finding to record as a `clock` event.

    Attributes:
        state: `confirmed`, `jumped`, or `off` (the nodes' clocks show another time).
        by_ms: How far the wall clock jumped, the clock was moved, or the nodes' time differs from it.
        moved_ms: How far time itself went forward with it.
    """

    state: str
    by_ms: int
    moved_ms: int = 0


def system_synchronised() -> bool | None:
    """Return whether the system says that its clock is synchronised; None if it does not say."""
    marker = Path("/run/systemd/timesync/synchronized")
    if marker.exists() or _kernel_synchronised():
        return True
    return False if marker.parent.exists() else None


_STATUS_AT, _UNSYNC, _ERROR = 40, 0x40, 5
"""Offset of `status` in Linux's 64-bit `struct timex`, its bit STA_UNSYNC, and the state TIME_ERROR: see adjtimex(2)."""


def _kernel_synchronised() -> bool:
    """Return whether the kernel calls its clock synchronised, as time services (chrony, ntpd, a container's host) tell it."""
    asked = ctypes.create_string_buffer(512)
    try:
        state = ctypes.CDLL(None).adjtimex(asked)
    except (AttributeError, OSError):
        return False
    status = int.from_bytes(asked.raw[_STATUS_AT : _STATUS_AT + 4], "little")
    return ctypes.sizeof(ctypes.c_long) == 8 and 0 <= state < _ERROR and not status & _UNSYNC


class YardClock:
    """The daemon's clock. One thread calls `look` about once a second and records the news that it returns.

    Attributes:
        confirmed: Whether the clock can be trusted, so that a reading can be judged to be ahead of it.
        jumped_by_ms: How far the wall clock is from this one after a jump that is not followed; else 0.
        ahead_ms: How far this clock is ahead of the nodes' time; it is never put back for that.
    """

    def __init__(
        self,
        wall_ms: Callable[[], int] = lambda: time.time_ns() // 1_000_000,
        monotonic_s: Callable[[], float] = time.monotonic,
        synchronised: Callable[[], bool | None] = system_synchronised,
        timing: Timing | None = None,
    ) -> None:
        self._wall = wall_ms
        self._monotonic = monotonic_s
        self._synchronised = synchronised
        self._base_ms = wall_ms()
        self._base_s = monotonic_s()
        self._floor_ms = 0
        self._agreed_since_s: float | None = None
        self._nodes = Witnesses(timing or Timing())
        self._corrected_ms = 0
        self.confirmed = self._system = synchronised() is True
        self.jumped_by_ms = self.ahead_ms = 0

    def now_ms(self) -> int:
        """Return the time, UTC ms; it never goes back."""
        self._floor_ms = max(self._floor_ms, self._carried(self._monotonic()))
        return self._floor_ms

    def believed_ms(self) -> int:
        """Return the best estimate of the time, UTC ms; it may lie before `now_ms`, which never goes back."""
        return self._carried(self._monotonic()) - self.ahead_ms

    def monotonic_s(self) -> float:
        """Return seconds on the monotonic clock."""
        return self._monotonic()

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many seconds to wait for an instant; 0 if it has passed."""
        return max(0.0, (instant_ms - self.now_ms()) / 1000)

    @property
    def asks(self) -> bool:
        """Whether the nodes' times are needed now."""
        return not self._system or bool(self.jumped_by_ms)

    def probe_says(self, time_ms: int, who: str = "") -> None:
        """Note the time (UTC ms) of a reading that has just arrived with a time of its own; `who` names its origin."""
        self._nodes.says(who, time_ms, self._monotonic())

    def look(self) -> list[ClockNews]:
        """Compare with the wall clock and return the news: it is confirmed, the wall clock jumped, or the nodes disagree."""
        mono = self._monotonic()
        carried, raw = self._carried(mono), self._wall()
        if (self._corrected_ms or self.ahead_ms) and self._put_right(raw, carried):
            self._corrected_ms = self.ahead_ms = self.jumped_by_ms = 0
            self._set(raw, mono)
            self._nodes.forget()
            self.confirmed, self._agreed_since_s = True, None
            return [ClockNews("confirmed", 0, max(0, raw - carried))]
        wall = raw + self._corrected_ms
        drift = wall - carried
        if abs(drift) <= JUMP_MS:
            self._set(wall, mono)
            if self.jumped_by_ms:
                # The wall clock came back by itself, so the jump needs no further checking.
                self.jumped_by_ms = 0
                self.confirmed = True
                return [ClockNews("confirmed", 0)]
        elif not self.jumped_by_ms or abs(drift - self.jumped_by_ms) > JUMP_MS:
            self.jumped_by_ms, self.confirmed, self._agreed_since_s = drift, False, None
            self._nodes.forget()
            return [ClockNews("jumped", drift)]
        if self.jumped_by_ms:
            return self._after_jump(wall, carried, mono)
        if not self.confirmed and self._synchronised() is True:
            self.confirmed = self._system = True
            return [ClockNews("confirmed", 0)]
        return [] if self._system else self._ask_nodes(mono)

    def _carried(self, mono: float) -> int:
        return self._base_ms + int((mono - self._base_s) * 1000)

    def _set(self, to_ms: int, mono: float) -> None:
        self._base_ms, self._base_s = to_ms, mono

    def _put_right(self, raw: int, carried: int) -> bool:
        """Return whether the computer's clock was set to the nodes' time, or the system now knows it to be right."""
        self._system = self._synchronised() is True
        return self._system or abs(raw - (carried - self.ahead_ms)) <= JUMP_MS

    def _after_jump(self, wall: int, carried: int, mono: float) -> list[ClockNews]:
        """Follow a wall clock that jumped, once others have agreed with it for long enough."""
        new, old = self._nodes.supporting(wall, mono), self._nodes.supporting(carried, mono)
        if self._synchronised() is True:
            self._system, agreed = True, True
        else:
            agreed = new > old
        if not agreed:
            self._agreed_since_s = None
            # The nodes agree with the time carried forward, so it can tell which readings are ahead.
            self.confirmed = self.confirmed or old > new
            return []
        if self._agreed_since_s is None:
            self._agreed_since_s = mono
        if mono - self._agreed_since_s < AGREE_MS / 1000:
            return []
        self._set(wall, mono)
        followed, self.jumped_by_ms, self.ahead_ms, self.confirmed = self.jumped_by_ms, 0, 0, True
        return [ClockNews("confirmed", followed, max(0, followed))]

    def _ask_nodes(self, mono: float) -> list[ClockNews]:
        """Follow the nodes' clocks, while the system says nothing about its own."""
        found = self._nodes.verdict(self._carried(mono) - self.ahead_ms, mono)
        if found is None:
            return []
        if found.off_ms == 0:
            was, self.confirmed = self.confirmed, True
            return [] if was else [ClockNews("confirmed", 0)]
        self._nodes.forget()
        self.confirmed = True
        if found.off_ms < 0:
            self.ahead_ms -= found.off_ms
            return [ClockNews("off", -self.ahead_ms)]
        moved = max(0, found.off_ms - self.ahead_ms)
        if moved:
            self._corrected_ms += moved
            self._set(self._carried(mono) + moved, mono)
        self.ahead_ms = max(0, self.ahead_ms - found.off_ms)
        off = self._corrected_ms - self.ahead_ms
        return [ClockNews("off", off, moved) if off else ClockNews("confirmed", 0)]


class ScaledClock:
    """A clock that starts at a chosen instant and runs faster than the real one; the demo uses it.

    It can be held at a latest instant: a world at thousands of times its pace must not run on while the computer is busy.
    """

    def __init__(self, start_ms: int, scale: float, monotonic_s: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic_s
        # One tuple, replaced at once, so that another thread never sees a new pace with an old start.
        self._run = (start_ms, monotonic_s(), scale, LATEST_MS)
        self._changing = threading.Lock()
        self.confirmed = True
        self.asks = False

    def now_ms(self) -> int:
        """Return the scaled time, UTC ms."""
        start_ms, begun_s, scale, latest_ms = self._run
        return min(start_ms + int((self._monotonic() - begun_s) * 1000 * scale), latest_ms)

    def go_on(self, scale: float) -> None:
        """Continue from now at another pace."""
        with self._changing:
            self._run = (self.now_ms(), self._monotonic(), scale, self._run[3])

    def hold_at(self, latest_ms: int) -> None:
        """Stand still from an instant (UTC ms) on, until this is called again; time that was stood out is not made up for."""
        with self._changing:
            self._run = (self.now_ms(), self._monotonic(), self._run[2], latest_ms)

    def monotonic_s(self) -> float:
        """Return seconds on the real monotonic clock."""
        return self._monotonic()

    def seconds_until(self, instant_ms: int) -> float:
        """Return how many real seconds to wait for a scaled instant, as far as the clock's pace tells."""
        _, _, scale, latest_ms = self._run
        wait_s = max(0.0, (instant_ms - self.now_ms()) / 1000 / scale)
        # Whoever waits for an instant that the held clock cannot reach yet must not ask without a pause.
        return max(wait_s, HELD_WAIT_S) if instant_ms > latest_ms else wait_s

    def believed_ms(self) -> int:
        """Return the scaled time; this clock is right by definition."""
        return self.now_ms()

    def probe_says(self, time_ms: int, who: str = "") -> None:
        """Ignore the nodes: this clock is right by definition."""

    def look(self) -> list[ClockNews]:
        """Return no news: this clock does not jump."""
        return []
