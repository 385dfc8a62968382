"""A disk that fails again while a failed turn is undone: nothing that is remembered of that turn may outlive it."""

import sqlite3
from contextlib import suppress

import pytest
from journal_yard import DAY, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import Kept, audit
from monitor.model.errors import UnavailableError


class Failing(sqlite3.Connection):
    """A connection on which statements fail: those that begin with one of `words`, so many times each."""

    words = None

    def execute(self, sql, *bound):
        for word in self.words or ():
            if sql.startswith(word) and self.words[word] > 0:
                self.words[word] -= 1
                fault = sqlite3.OperationalError("disk I/O error")
                fault.sqlite_errorname = "SQLITE_IOERR_READ"
                raise fault
        return super().execute(sql, *bound)


@pytest.fixture
def fails(monkeypatch):
    connect = sqlite3.connect
    monkeypatch.setattr(Failing, "words", {})
    monkeypatch.setattr(sqlite3, "connect", lambda *args, **how: connect(*args, factory=Failing, **how))
    return Failing.words


@pytest.mark.parametrize("undoing", ["ROLLBACK", "SELECT id, probe, unit FROM series", "SELECT"])
def test_a_turn_that_cannot_even_be_undone_is_tried_again_and_loses_nothing(tmp_path, fails, undoing):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        for number in range(3):
            # A new probe each time: its series is remembered, and must be forgotten with the turn.
            one = reading(1 + number, probe=f"fresh-{number}")
            fails.update({"COMMIT": 1, undoing: 2 + number})
            for _ in range(20):
                with suppress(UnavailableError):
                    feed(writer, T0 + (1 + number) * MINUTE, one)
                    break
            else:
                pytest.fail("it never comes to an end")
            fails.clear()
            assert one in everything(writer.store)
        assert len(everything(writer.store)) == 4
        assert [one for one in audit(writer.store) if one.is_fault()] == []


def test_marks_that_cannot_be_read_again_after_days_were_dropped_are_not_gone_by(tmp_path, fails):
    with writer_of(tmp_path) as writer:
        for day in range(4):
            feed(writer, T0 + day * DAY, reading(day * 1440), reading(day * 1440 + 1))
        fails["SELECT last_event, advanced"] = 0
        reads = [0]
        plain = Failing.execute

        def once_more(self, sql, *bound):
            # `prune` reads the mark itself first; the reading after its commit fails.
            if sql.startswith("SELECT last_event"):
                reads[0] += 1
                if reads[0] == 2:
                    fails["SELECT last_event"] = 1
            return plain(self, sql, *bound)

        Failing.execute = once_more
        try:
            with pytest.raises(UnavailableError):
                writer.prune(Kept(now=T0 + 3 * DAY, days=1))
        finally:
            Failing.execute = plain
        assert [link.pruned for link in writer.store.chain()][:2] == [True, True]
        feed(writer, T0 + 3 * DAY + MINUTE, reading(5 * 1440))
        assert [one for one in audit(writer.store) if one.is_fault()] == []


def test_that_nobody_can_say_whether_requests_wait_is_told_as_a_fault_of_the_disk(tmp_path, fails):
    with writer_of(tmp_path) as writer:
        fails["PRAGMA data_version"] = 1
        with pytest.raises(UnavailableError, match=r"journal\.db failed"):
            writer.requests.may_wait()
        assert writer.requests.may_wait()
