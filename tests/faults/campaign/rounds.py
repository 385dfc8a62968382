"""One round of the campaign: a yard with real parts, what goes wrong in it, and a calm end at which everything is checked."""

import time

import pytest

from monitor.journal import open_reader
from monitor.model.times import DAY_MS
from tests.faults.ledger import Broken

from . import judging
from .courses import Courses
from .kinds import KINDS
from .running import LIVELY_S

OLD_DAYS = 6
"""How long ago, in days, a yard lived that has old days to drop."""


class Round(Courses):
    """A round; `play` it once."""

    def play(self):
        """Live through the round; raises `Broken` if something does not hold that must."""
        for kind in self.kinds:
            self.counts.note(f"fault: {kind}")
            KINDS[kind](self)
        self._first_start()
        if self.old_days:
            self._old_day()
        self.until(self._is_up, "the first start")
        # Not earlier: a broker keeps nothing for somebody who has never been there.
        self.nodes.start()
        self.asking.start()
        self._begun, self._lively = time.monotonic(), True
        while self._agenda or self._armed or time.monotonic() - self._begun < LIVELY_S:
            self.step()
        self._calm()
        self._settle()
        judging.judge(self)
        self.counts.note("rounds")

    def _first_start(self):
        self._wanted = True
        if self.first_start_s is not None:
            self._keep_running()
            time.sleep(self.first_start_s)
            self.kill(0.0)
        self._keep_running()

    def _old_day(self):
        """Let the yard have lived some days ago, so that retention finds days to drop."""
        self.kill(0.0)
        self.clock_off(-OLD_DAYS * DAY_MS)
        self.nodes.off_ms = -OLD_DAYS * DAY_MS
        self.books.today -= OLD_DAYS
        self._keep_running()
        self.until(self._is_up, "a start some days ago")
        for number in range(40):
            self.nodes.say("p1-a", 50.0 + number / 10)
            self.step()
        self.until(lambda: not self.books.unacknowledged(self.nodes.sender.sent), "the readings of some days ago")
        self._stop_with(self.daemon.kill, "kills", 0.0)
        self.clock_off(0)
        self.nodes.off_ms = 0
        self.books.today += OLD_DAYS
        self._keep_running()

    def _calm(self):
        """End everything that is wrong."""
        self.outage_ends()
        self.broker.resume()
        self.clock_off(0)
        self.tap.loses = 0
        for part in (self.mirror, self.mailbox, self.hook):
            part.mood = "well"
        if self.wrong_settings:
            self.settings()
        self.asking.wishes = False
        self.nodes.rest()

    def _settle(self):
        """Wait until everything that was under way has come where it belongs."""
        self.until(self._is_up, "the daemon to be up again")
        # Not earlier: a start may have failed before everything was well, and end only now.
        self.may_fail = False
        self.until(self.nodes.are_heard, "the broker to take what was sent")
        self.tap.cut()
        if not self.broker_forgets:
            sent = self.nodes.sender.sent
            self.until(lambda: not self.books.unacknowledged(sent), "the program to take all that the broker took")
        self.until(lambda: not self.books.asked, "answers to all requests")
        judging.tell_something(self)
        with open_reader(self.storage.folder) as store:
            self.until(lambda: store.waiting_notices() == 0, "all notices to be delivered")
        judging.wait_for_mirror(self)
        self._wanted = False
        self.end()


def play(seed, folder, **how):
    """Play one round and return it; its parts have ended then, whatever happened.

    Raises:
        Broken: Something does not hold that must.
    """
    one = Round(seed, folder, **how)
    try:
        one.play()
    except pytest.fail.Exception as fault:
        raise Broken(str(fault)) from fault
    finally:
        one.close()
    return one
