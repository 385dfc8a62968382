"""No certificate is made of days that are not what was written; other days do not matter to it."""

import pytest
from certificate_yard import DAY, HOUR, T0, Journal, view_of

from monitor.app.cases.soundness import days_behind, refuse_damaged
from monitor.journal import DamagedError


@pytest.fixture
def journal(tmp_path):
    yard = Journal(tmp_path)
    yard.work(T0, "p1", "built")
    yard.hold(T0 + HOUR, T0 + 4 * DAY, step=2 * HOUR, p1_a=60, p1_b=58)
    # A reading of the second day that came on the sixth.
    yard.put(T0 + 6 * DAY, "readings", {"rows": [[T0 + DAY + 30_000, "p1-a", 60_000_000, "Cel"]]})
    yield yard
    yard.writer.close()


def damaged(journal, time):
    changed = journal.writer.store.connection.execute("UPDATE reading SET micro = micro + 1 WHERE time = ?", (time,))
    assert changed.rowcount


def check(journal):
    case = journal.case("p1")
    with view_of(journal.folder) as view:
        refuse_damaged(view.store, case)
        return {day - T0 // DAY for day in days_behind(view.store, case)}


def test_the_days_behind_a_case_are_those_on_which_it_arrived(journal):
    # Settings came on the day before.
    assert check(journal) == {-1, 0, 1, 2, 3, 6}


@pytest.mark.parametrize("time", [T0 + HOUR, T0 + 3 * DAY + HOUR, T0 + DAY + 30_000])
def test_a_day_that_is_not_what_was_written_makes_no_certificate(journal, time):
    damaged(journal, time)
    with pytest.raises(
        DamagedError, match=r"no certificate is made of it \(2026-11-0\d: .*ha(s|ve) been changed since"
    ):
        check(journal)


def test_damage_elsewhere_does_not_matter(journal):
    journal.read(T0 + 9 * DAY, air=5)
    damaged(journal, T0 + 9 * DAY)
    check(journal)
