"""Runs a mirror on a thread of its own until it is stopped."""

import threading
from collections.abc import Callable

from monitor.mirror.mirror import Mirror

_LONGEST_S = 60.0


class MirrorThread:
    """The thread of one mirror."""

    def __init__(
        self, make: Callable[[], Mirror], monotonic_s: Callable[[], float], crashed: Callable[[Exception], None]
    ) -> None:
        """Take the mirror's maker, the clock, and the receiver of faults.

        Args:
            make: Called on the thread, so that connections of the journal belong to it.
            monotonic_s: Monotonic seconds.
            crashed: Receives the exception, on the thread, if the mirror raises; after a minute the mirror is made anew.
        """
        self._make, self._monotonic_s, self._crashed = make, monotonic_s, crashed
        self._wake = threading.Event()
        self._stopping = False
        # Make it a daemon thread: a server that hangs must not keep the program from ending; the cursor is on the disk.
        self._thread = threading.Thread(target=self._work, name="mirror", daemon=True)

    def start(self) -> None:
        """Start the thread; called once."""
        self._thread.start()

    def poke(self) -> None:
        """Report that there is something new; from any thread, returns at once."""
        self._wake.set()

    def stop(self, timeout_s: float = 5.0) -> None:
        """End the thread after the batch in hand, waiting at most `timeout_s`."""
        self._stopping = True
        self._wake.set()
        self._thread.join(timeout_s)

    def _work(self) -> None:
        while not self._stopping:
            try:
                mirror = self._make()
                while not self._stopping:
                    self._sleep(mirror.step(self._monotonic_s()))
            except Exception as fault:  # noqa: BLE001 - the mirror may fail; what it mirrors may not
                self._crashed(fault)
                self._sleep(_LONGEST_S)

    def _sleep(self, pause_s: float) -> None:
        if pause_s > 0:
            self._wake.wait(min(pause_s, _LONGEST_S))
            self._wake.clear()
