"""Looks for silent probes in a run, with stand-ins for the probes: when each comes, which one finds something, what is kept."""

from types import SimpleNamespace

import numpy as np
import pytest

from monitor.engine.context.agenda import SILENCE, Agenda
from monitor.engine.stretch.checks import Checks

WAIT = 100
AT = [1000, 1050, 1400, 2000]
"""The commits of a run, ms."""


class Probe:
    """A probe that looks find silent from an instant on, and whose deadline is what it is told."""

    def __init__(self, *, silent_from=1 << 40, dues=()):
        self.silent_from, self.dues, self.looked = silent_from, dict(dues), []

    def look(self, core, at):
        self.looked.append(at)
        return (True, None) if at >= self.silent_from else (False, self.dues.get(at))


def checks_of(first, *, deciding=(), before=(), soonest=None, evenly=False):
    made = Checks.__new__(Checks)
    agenda = Agenda({})
    agenda.set(SILENCE, first)
    made._core = SimpleNamespace(
        agenda=agenda, shortest_wait_ms=WAIT, silence_check=first, at=0, state=SimpleNamespace(last=0)
    )
    made._kept, made._at, made.looked = {}, np.array(AT), -1
    made._deciding, made._before, made._signature = list(deciding), list(before), ["signature"]
    made._soonest = None if soonest is None else np.array(soonest)
    made._chain, made._evenly = None, evenly
    return made


def left(checks):
    """Return when the next look is, and the newest that was served."""
    core = checks._core
    assert core.at == checks.looked
    assert core.state.last == max(0, checks.looked)
    return core.agenda.due(SILENCE), checks.looked


@pytest.mark.parametrize(
    ("until", "tie", "upcoming", "looked"),
    [
        (1200, True, 1300, 1200),
        (1200, False, 1200, 1100),
        (1201, False, 1300, 1200),
        (1299, True, 1300, 1200),
        (1300, True, 1400, 1300),
    ],
)
@pytest.mark.parametrize("evenly", [True, False])
def test_looks_that_find_nothing_follow_each_other_at_the_shortest_wait(until, tie, upcoming, looked, evenly):
    checks = checks_of(1100, evenly=evenly)
    assert checks.run(until, tie) is False
    assert left(checks) == (upcoming, looked)


@pytest.mark.parametrize("evenly", [True, False])
def test_a_look_that_is_not_due_yet_is_left_alone(evenly):
    for until, tie in ((1099, True), (1100, False)):
        checks = checks_of(1100, evenly=evenly)
        assert checks.run(until, tie) is False
        assert (checks._core.agenda.due(SILENCE), checks.looked, checks._core.at) == (1100, -1, 0)


def test_a_deadline_before_the_next_look_brings_it_forward():
    checks = checks_of(1100, soonest=[1130, 1130, 1420, 9999])
    assert checks.run(1120, True) is False
    assert left(checks) == (1130, 1100)
    checks = checks_of(1100, soonest=[1090, 1090, 9999, 9999])
    checks.run(1103, True)
    assert left(checks) == (1104, 1103), "one that is past is looked for at the next instant"


@pytest.mark.parametrize("evenly", [True, False])
def test_before_the_first_commit_everyone_is_looked_at(evenly):
    one, other = Probe(dues={900: 950}), Probe()
    checks = checks_of(900, before=[one], deciding=[] if evenly else [other], evenly=evenly)
    assert checks.run(960, True) is False
    assert (one.looked, other.looked) == ([900, 950], [])
    assert left(checks) == (1050, 950)


@pytest.mark.parametrize("evenly", [True, False])
@pytest.mark.parametrize("silent_from", [900, 1000])
def test_a_look_before_the_first_commit_that_finds_a_probe_is_not_served_here(silent_from, evenly):
    checks = checks_of(900, before=[Probe(silent_from=silent_from)], evenly=evenly)
    assert checks.run(1200, True) is True
    assert checks._core.agenda.due(SILENCE) == silent_from
    assert checks.looked == (900 if silent_from > 900 else -1)


def test_in_a_run_those_are_looked_at_whose_gaps_are_long():
    one, other = Probe(dues={1100: 1150, 1150: 1120}), Probe()
    checks = checks_of(1100, deciding=[one], before=[other])
    assert checks.run(1151, True) is False
    assert one.looked == [1100, 1150, 1151]
    assert other.looked == []
    assert left(checks) == (1251, 1151)


@pytest.mark.parametrize("silent_from", [1100, 1101, 1200])
def test_a_look_that_finds_a_probe_ends_the_looks_before_it_is_served(silent_from):
    checks = checks_of(1100, deciding=[Probe(), Probe(silent_from=silent_from)])
    assert checks.run(5000, True) is True
    found = 1100 if silent_from == 1100 else 1200
    assert checks._core.agenda.due(SILENCE) == found
    assert checks.looked == (-1 if found == 1100 else 1100)


def test_looks_that_were_worked_out_are_kept_for_the_next_stop():
    probe = Probe()
    checks = checks_of(1100, deciding=[probe])
    checks.run(1300, True)
    seen = len(probe.looked)
    checks._core.silence_check = 1400
    checks.run(1400, True)
    assert probe.looked[seen:] == [1400]
    assert left(checks) == (1500, 1400)
    checks._core.silence_check = 1450
    checks.run(1450, True)
    assert left(checks) == (1550, 1450), "another chain of looks"


@pytest.mark.parametrize("last", [0, 5000])
def test_the_engines_last_instant_never_goes_back(last):
    checks = checks_of(1100, evenly=True)
    checks._core.state.last = last
    checks.run(1100, True)
    assert checks._core.state.last == max(1100, last)
    assert checks._core.at == 1100


def test_no_deadline_may_come_before_the_next_look_where_looks_are_even():
    checks = checks_of(1100)
    dues = {1: np.array([1150, 1500, 2100, 0]), 2: np.array([1160, 1501, 2101, 0]), 3: None}
    checks._signature = [1, 2, 3]
    checks._kept = {("due", name): column for name, column in dues.items()}
    soonest, far = checks._soonest_of(WAIT)
    assert (soonest.tolist(), far) == ([1150, 1500, 2100, 0], True)
    dues[2][1] = 1499
    soonest, far = checks._soonest_of(WAIT)
    assert (soonest.tolist(), far) == ([1150, 1499, 2100, 0], False)
    checks._signature = [3]
    assert checks._soonest_of(WAIT) == (None, True)
