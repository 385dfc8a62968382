"""Taking back an older entry says first what is lost by it; what was entered just now goes without a question."""

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.app.entries import questioning
from monitor.app.entries.questioning import UNASKED_MS
from monitor.app.loop.asking import ask, asking
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import open_reader, resume
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.proof.rules import rule_ids

BUILT = parse_time("2026-05-01T09:00:00Z")
yard = yard_of(ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", ""))


@pytest.fixture
def configuration(yard):
    return load(yard / "heaptender.toml", {}, rules=rule_ids())


def at(time):
    return lambda: time


def entered(configuration, time, kind, **more):
    """Enter a piece of work on p1 when it is done, and return its event."""
    payload = {"time": time, "place": "p1", "kind": kind} | more
    return ask(configuration, EventKind.WORK, payload, at(time + 1), again=True).at


def held(configuration, days, start=BUILT):
    """Let p1 be hot for some days, and return their end."""
    end = start + days * DAY_MS
    rows = [[time, "p1-a", 60_000_000, "Cel"] for time in range(start + HOUR_MS, end + 1, HOUR_MS)]
    with asking(configuration, at(end)) as session:
        session.ask(EventKind.IMPORTED, {"rows": rows})
    return end


def back(configuration, of, time, *, work=None, again=False):
    return ask(configuration, EventKind.CORRECTION, {"of": of, "work": work, "by": ""}, at(time), again=again)


def standing(configuration):
    with open_reader(configuration.data) as store, store.view():
        return resume(store, Engine, Engine.restore).engine.state.batches.lying


def test_a_heap_with_days_of_its_rule_is_not_taken_back_unasked(configuration):
    built = entered(configuration, BUILT, "built")
    end = held(configuration, 4)
    asked = back(configuration, built, end + HOUR_MS)
    assert asked.question == (
        "The heap of Bay 1 would never have been there, and its 3 days would be lost. Is that so?"
    )
    assert "p1" in standing(configuration), "asking takes nothing back"
    assert back(configuration, built, end + 2 * HOUR_MS, again=True).question == ""


def test_a_turning_that_counts_is_not_taken_back_unasked_unless_just_entered(configuration):
    entered(configuration, BUILT, "built")
    middle = held(configuration, 3)
    turned = entered(configuration, middle, "turned")
    entered(configuration, middle + HOUR_MS, "probe in", probe="p1-a")
    end = held(configuration, 3, middle + HOUR_MS)
    asked = back(configuration, turned, end + HOUR_MS)
    assert asked.question == "Bay 1 would have 0 turnings that count instead of 1. Is that so?"
    again = entered(configuration, end + 2 * HOUR_MS, "turned")
    assert back(configuration, again, end + 2 * HOUR_MS + UNASKED_MS // 2).question == ""


def test_what_loses_nothing_is_taken_back_without_a_question(configuration):
    entered(configuration, BUILT, "built")
    watered = entered(configuration, BUILT + DAY_MS, "watered")
    end = held(configuration, 3, BUILT + DAY_MS)
    assert back(configuration, watered, end + 3 * HOUR_MS).question == ""


def test_a_later_beginning_says_which_days_go(configuration):
    built = entered(configuration, BUILT, "built")
    end = held(configuration, 5)
    right = {"time": BUILT + 2 * DAY_MS, "place": "p1", "kind": "built"}
    asked = back(configuration, built, end + HOUR_MS, work=right)
    assert asked.question == "Bay 1 would have 3 days of its rule instead of 4. Is that so?"
    assert back(configuration, built, end + HOUR_MS, work=right | {"time": BUILT - HOUR_MS}).question == ""


def test_the_command_asks_and_takes_again_for_an_answer(configuration, yard):
    entered(configuration, BUILT, "built")
    held(configuration, 4)
    told = call(yard, "log", "undo", "1", code=1)
    assert "its 3 days would be lost. Is that so?" in told
    assert "enter it again with --again" in told
    assert "1 taken back" in call(yard, "log", "undo", "1", "--again")


def test_other_yards_are_untouched_by_the_rehearsal(configuration):
    built = entered(configuration, BUILT, "built")
    end = held(configuration, 4)
    with open_reader(configuration.data) as store, store.view():
        before = resume(store, Engine, Engine.restore).engine.snapshot()
    back(configuration, built, end + HOUR_MS)
    with open_reader(configuration.data) as store, store.view():
        engine = resume(store, Engine, Engine.restore).engine
    assert engine.state.batches == Engine.restore(before).state.batches


def test_an_entry_on_which_no_rule_depends_is_not_rehearsed(configuration, monkeypatch):
    entered(configuration, BUILT, "built")
    watered = entered(configuration, BUILT + DAY_MS, "watered")
    end = held(configuration, 3, BUILT + DAY_MS)
    monkeypatch.setattr(questioning, "losses", lambda *_: pytest.fail("it was rehearsed"))
    assert back(configuration, watered, end + 3 * HOUR_MS).question == ""
