"""The steps of a run, each with stand-ins for its neighbours: where it goes next, what comes along, what is brought up."""

from types import SimpleNamespace

import numpy as np
import pytest

from monitor.conditioning import Course as Way
from monitor.engine.context.agenda import DESK, SILENCE, Agenda, Deadline, DueKind
from monitor.engine.stretch.beds import BedCourse
from monitor.engine.stretch.courses import Course
from monitor.engine.stretch.curves import END
from monitor.engine.stretch.drive import Drive
from monitor.engine.stretch.known_flags import KnownFlags
from monitor.engine.stretch.pile_limits import DigestLines
from monitor.engine.stretch.unread import UnreadDrive
from monitor.model.alarm_kinds import BED_MOISTURE, alarm_key
from monitor.model.events import Event, EventKind
from monitor.model.settings import AMBIENT, Pile
from monitor.model.units import Quantity

COUNT = 200
ROWS = 2
"""Rows of each commit: commit n holds the keys from 4n to 4n + 3."""


def way_of(count=COUNT):
    first = np.arange(count + 1, dtype=np.int64) * ROWS
    return Way(np.arange(count, dtype=np.int64) * 10, first, np.zeros(count * ROWS, np.int64))


def key_of(commit):
    return 2 * ROWS * commit + 1


def a_drive(*, next_keys=None, places=None, changes=(), changed=0, between=(), base=0, agenda=None, **state):
    """A run of many commits, one each 10 ms."""
    made = Drive.__new__(Drive)
    made.way = way_of()
    made.next, made.places = next_keys or {}, places or {}
    made._changes, made._changed = list(changes), changed
    made._between, made._base = list(between), base
    made.core = SimpleNamespace(agenda=agenda or Agenda({}), state=SimpleNamespace(**state))
    return made


# Where the run goes next -----------------------------------------------------------------------------------------


def test_the_next_commit_is_that_of_the_first_key_with_all_places_that_need_it():
    drive = a_drive(next_keys={"a": key_of(7), "b": key_of(7) + 2, "c": key_of(8), "d": END})
    assert drive._upcoming() == (7, ["a", "b"])
    drive.next["c"] = 2 * ROWS * 8 - 1
    assert drive._upcoming() == (7, ["a", "b", "c"]), "the last key of that commit"
    drive.next["c"] = 2 * ROWS * 8
    assert drive._upcoming() == (7, ["a", "b"])


def test_a_change_of_the_conditioner_is_a_commit_of_its_own():
    assert a_drive(next_keys={"a": key_of(7)}, changes=[key_of(3), key_of(5)])._upcoming() == (3, [])
    assert a_drive(next_keys={"a": key_of(7)}, changes=[key_of(3), key_of(5)], changed=1)._upcoming() == (5, [])
    assert a_drive(next_keys={"a": key_of(7)}, changes=[key_of(3)], changed=1)._upcoming() == (7, ["a"])
    assert a_drive(changes=[key_of(3)], changed=1).change_key() == END
    assert a_drive()._upcoming() == (COUNT, [])


def test_what_is_behind_the_last_row_is_of_no_commit():
    end = 2 * ROWS * COUNT
    assert a_drive(next_keys={"a": end - 1})._upcoming() == (COUNT - 1, ["a"])
    assert a_drive(next_keys={"a": end})._upcoming() == (COUNT, [])


def test_a_run_of_walks_stops_at_the_next_deadline_that_is_no_look_or_at_a_small_event():
    agenda = Agenda({})
    agenda.set(SILENCE, 20)
    assert a_drive(agenda=agenda).stops() == COUNT
    agenda.set(Deadline("p1", DueKind.DESK), 70)
    assert a_drive(agenda=agenda).stops() == 7, "the commit at that instant comes after it"
    agenda.set(Deadline("p1", DueKind.DESK), 71)
    assert a_drive(agenda=agenda).stops() == 8
    assert a_drive(agenda=agenda, between=[(90, None), (45, None)], base=40).stops() == 5
    assert a_drive(agenda=agenda, between=[(90, None)], base=40).stops() == 8


# What is brought up ----------------------------------------------------------------------------------------------


class Brought:
    """A place that notes up to where it was brought."""

    def __init__(self, *lanes):
        self.lanes, self.got = lanes, []
        self.skip = self.got.append

    def next_key(self):
        return 77


def lane():
    made = SimpleNamespace(got=[])
    made.skip = made.got.append
    return made


def test_a_place_is_brought_up_with_its_probes():
    one, other = lane(), lane()
    drive = a_drive(places={"p": Brought(one), "q": Brought(other)})
    drive._skip("p", 9)
    assert (drive.places["p"].got, one.got, drive.places["q"].got, other.got) == ([9], [9], [], [])
    drive.skip_all(11)
    assert (drive.places["p"].got, one.got, drive.places["q"].got, other.got) == ([9, 11], [9, 11], [11], [11])


def told_again(*, on=True, digest=False, still=False):
    """A run in which an alarm of q is told again."""
    places = {name: Brought(lane()) for name in ("p", "q", "r", AMBIENT)}
    alarms = {"q/alarm": SimpleNamespace(place="q", on=on), "gone/alarm": SimpleNamespace(place="gone", on=True)}
    drive = a_drive(places=places, alarms=alarms)
    drive.core.desk = SimpleNamespace(digest_due=lambda due: digest)
    drive.known_flags = SimpleNamespace(still=lambda: still)
    drive.lanes = {name: place.lanes[0] for name, place in places.items()}
    return drive


def brought(drive):
    return sorted(name for name, place in drive.places.items() if place.got)


def test_to_tell_again_only_the_places_with_an_alarm_on_and_the_air_are_brought_up(monkeypatch):
    drive = told_again()
    drive._skip_told("p", 9, 100)
    assert brought(drive) == sorted(["p", "q", AMBIENT])
    drive = told_again(on=False)
    drive._skip_told("", 9, 100)
    assert brought(drive) == [AMBIENT]
    assert drive.lanes["r"].got == []


def test_for_a_digest_the_places_that_it_may_speak_of_are_brought_up_too(monkeypatch):
    monkeypatch.setattr("monitor.engine.stretch.drive.not_known_by_probes", lambda core: ["r"])
    monkeypatch.setattr("monitor.engine.stretch.drive.waiting_for_turnings", lambda core: ["p"])
    drive = told_again(digest=True)
    drive._skip_told("", 9, 100)
    assert brought(drive) == sorted(["p", "q", "r", AMBIENT])
    monkeypatch.setattr("monitor.engine.stretch.drive.not_known_by_probes", lambda core: [])
    drive = told_again(digest=True)
    drive._skip_told("", 9, 100)
    assert brought(drive) == sorted(["p", "q", AMBIENT])
    assert drive.lanes["r"].got == [9], "which places are known goes by each probe's last word"
    drive = told_again(digest=True, still=True)
    drive._skip_told("", 9, 100)
    assert len(brought(drive)) == 4


@pytest.mark.parametrize(
    ("moves", "touched", "up"), [((), (), False), (["move"], (), True), ((), ["p"], True), (["move"], ["p"], True)]
)
def test_words_are_written_with_trends_and_the_air_as_they_are(moves, touched, up):
    one = lane()
    drive = a_drive(places={AMBIENT: Brought(), "p": Brought()})
    drive.core.moves, drive.core.touched = moves, touched
    drive._bring_up_words([one], 9)
    assert (one.got, drive.places[AMBIENT].got, drive.places["p"].got) == (([9], [9], []) if up else ([], [], []))
    del drive.places[AMBIENT]
    drive._bring_up_words([one], 10)
    assert one.got == ([9, 10] if up else [])


def test_the_air_is_fed_along_with_a_heap_of_which_a_probe_lies_out():
    drive = a_drive(places={AMBIENT: None, "p": None, "b": None}, outings={"p-a": "out"})
    drive.core.settings = SimpleNamespace(piles={"p": None})
    assert drive._with_air(["p"]) == ["p", AMBIENT]
    assert drive._with_air(["b", "p"]) == ["b", "p", AMBIENT]
    assert drive._with_air([AMBIENT, "p"]) == [AMBIENT, "p"]
    assert drive._with_air(["b"]) == ["b"]
    drive.core.state.outings = {}
    assert drive._with_air(["p"]) == ["p"]
    drive.core.state.outings = {"p-a": "out"}
    del drive.places[AMBIENT]
    assert drive._with_air(["p"]) == ["p"]


def test_looks_are_prepared_again_when_a_rule_or_an_outing_changes():
    run, renewed = SimpleNamespace(rule="running"), []
    drive = a_drive(
        places={"p": Brought(), "q": Brought()}, runs={"heap": run}, outings={"a": SimpleNamespace(out=None)}
    )
    drive.checks = SimpleNamespace(renew=lambda: renewed.append(1))
    drive._rules = drive._rule_states()
    drive.after(["p"])
    assert (drive.next, renewed) == ({"p": 77}, [])
    run.rule = "met"
    drive.after([])
    drive.after(["q"])
    assert (drive.next, renewed) == ({"p": 77, "q": 77}, [1])
    drive.core.state.outings["a"].out = 5
    drive.after([])
    assert renewed == [1, 1]


# Small events between the commits of a run ----------------------------------------------------------------------


def with_event(at=45, *, before=5, base=0, ends=False, again=COUNT, look=True):
    """A run in which a small event comes before a commit."""
    event = SimpleNamespace(at=at)
    drive = a_drive(places={"p": None, "q": None}, between=[(90, None), (before, event)], base=base)
    drive.done = []
    drive._deadlines = lambda until: drive.done.append(("due", until)) or not ends
    drive._upcoming = lambda: (again, [])
    drive._needs_no_look = lambda event: not look
    drive._bring_up_to_work = lambda end: drive.done.append(("up to", end))
    drive.known_flags = SimpleNamespace(key=-1, now=-1)
    drive.engine = SimpleNamespace(take=lambda event: drive.done.append((drive.known_flags.key, drive.known_flags.now)))
    drive.after = drive.done.append
    return drive


def test_a_small_event_is_taken_in_with_everything_brought_up_to_the_commit_behind_it():
    drive = with_event()
    assert drive._work() is True
    end = 2 * ROWS * 5
    assert drive.done == [("due", 45), ("up to", end), (end, 45), ["p", "q"]]
    assert len(drive._between) == 1
    drive = with_event(before=25, base=20)
    drive._work()
    assert drive.done[1] == ("up to", end), "it counts from the first commit of the recording"


def test_a_small_event_waits_for_the_end_of_a_run_or_for_a_commit_before_it():
    drive = with_event(ends=True)
    assert drive._work() is False
    drive = with_event(again=4)
    assert drive._work() is True
    assert (drive.done, len(drive._between)) == ([("due", 45)], 2)
    drive = with_event(again=5)
    drive._work()
    assert len(drive._between) == 1


def test_a_small_event_that_asks_about_nothing_brings_nothing_up():
    drive = with_event(look=False)
    assert drive._work() is True
    assert drive.done == [("due", 45), (-1, -1)]
    assert len(drive._between) == 1


def unread(*, runs=(), on=None, **places):
    made = UnreadDrive.__new__(UnreadDrive)
    alarms = {} if on is None else {alarm_key("b", one): SimpleNamespace(on=on) for one in BED_MOISTURE[-1:]}
    made.core = SimpleNamespace(
        settings=SimpleNamespace(bins={"b": None}, piles={}), state=SimpleNamespace(runs=runs, alarms=alarms, last=0)
    )
    made.places = places
    return made


def work_at(place, kind="watered", what=EventKind.WORK):
    return Event(5, what, {"place": place, "kind": kind})


def test_where_nobody_reads_work_at_a_bin_needs_no_look_unless_it_may_end_an_alarm():
    assert unread()._needs_no_look(work_at("b"))
    assert unread(on=False)._needs_no_look(work_at("b"))
    assert not unread(on=True)._needs_no_look(work_at("b"))
    assert not unread(runs={"heap": 1})._needs_no_look(work_at("b"))
    assert not unread()._needs_no_look(work_at("p"))
    assert not unread()._needs_no_look(work_at("b", "probe out"))
    assert not unread()._needs_no_look(work_at("b", what=EventKind.ANSWER))


def a_bed():
    made = BedCourse.__new__(BedCourse)
    made.got = []
    made.skip = made.got.append
    return made


def test_where_nobody_reads_only_the_bin_of_a_deadline_is_brought_up(monkeypatch):
    passed_on = []
    monkeypatch.setattr(Drive, "_bring_up", lambda self, *what: passed_on.append(what))
    for kind, up in ((DueKind.ALARM, True), (DueKind.BED, True), (DueKind.HAND, False), (DueKind.SILENCE, False)):
        bed = a_bed()
        unread(b=bed)._bring_up(Deadline("b", kind), 9, 100)
        assert bed.got == ([9] if up else []), kind
    assert [deadline.kind for deadline, *_ in passed_on] == [DueKind.HAND, DueKind.SILENCE]
    for kind, passed in ((DueKind.ALARM, True), (DueKind.BED, True)):
        passed_on.clear()
        unread(p=SimpleNamespace())._bring_up(Deadline("p", kind), 9, 100)
        assert bool(passed_on) is passed
    passed_on.clear()
    unread()._bring_up(Deadline("", DueKind.ALARM), 9, 100)
    assert passed_on == [], "who is told again depends on the desk alone"
    unread()._bring_up(Deadline("", DueKind.PENDING), 9, 100)
    assert len(passed_on) == 1


def test_where_nobody_reads_the_desk_is_served_without_a_look(monkeypatch):
    passed_on, served = [], []
    monkeypatch.setattr(Drive, "_serve", lambda self, *what: passed_on.append(what) or False)
    drive = unread()
    drive.engine = SimpleNamespace(serve=served.append)
    assert drive._serve(70, DESK) is True
    assert (served, drive.core.at, drive.core.state.last, passed_on) == ([DESK], 70, 70, [])
    drive.core.state.last = 90
    drive._serve(80, DESK)
    assert drive.core.state.last == 90
    assert drive._serve(70, SILENCE) is False
    assert passed_on == [(70, SILENCE)]


def test_where_nobody_reads_the_air_is_not_brought_up_for_work():
    drive = unread(b=a_bed(), **{AMBIENT: a_bed()})
    drive._bring_up_to_work(9)
    assert (drive.places["b"].got, drive.places[AMBIENT].got) == ([9], [])


# Flags known in advance ------------------------------------------------------------------------------------------


def flags(dues=(), said=()):
    asked = []
    run = SimpleNamespace(
        dues=lambda: list(dues), said=lambda: list(said), still=lambda *what: asked.append(what[1:]) or ["still"]
    )
    return KnownFlags("conditioner", run), asked


def test_the_deadline_of_flags_is_the_last_that_was_set_before_a_key():
    known, _ = flags([(5, 100), (8, None), (11, 130)])
    assert known.changes() == [5, 8, 11]
    for key, due in ((0, None), (5, None), (6, 100), (8, 100), (9, None), (12, 130)):
        known.key = key
        assert known.due() == due, key


def test_flags_of_a_deadline_are_those_said_at_it():
    known, _ = flags(said=[SimpleNamespace(at=at, verdict=at) for at in (-1, 0, 7, 7, 8)])
    assert (known.expire(7), known.expire(0), known.expire(9), known.expire(-1)) == ((7, 7), (0,), (), ())


def test_what_still_waits_is_asked_once_for_a_place_in_the_run():
    known, asked = flags()
    known.key, known.now = 4, 9
    assert known.still() == known.still() == ["still"]
    assert asked == [(2, 9)]
    known.key = 5
    known.still()
    known.now = 10
    known.still()
    assert asked == [(2, 9), (3, 9), (3, 10)]


# A pile besides its batch ----------------------------------------------------------------------------------------


def damp(*milli):
    count = len(milli)
    lane = SimpleNamespace(
        name="p1-m", key=2 * np.arange(count) + 1, time=np.arange(count) * 10, milli=np.array(milli, np.int64),
        late=np.zeros(count, np.bool_), route=SimpleNamespace(quantity=Quantity.MOISTURE),
    )  # fmt: skip
    pile = Pile(name="Bay 1")
    core = SimpleNamespace(pile=lambda place: pile, state=SimpleNamespace(lines={}))
    low, high = pile.thresholds.moisture_low_milli_pct, pile.thresholds.moisture_high_milli_pct
    lane.milli = np.where(
        lane.milli < 0, low + lane.milli + 1, np.where(lane.milli > 1, high + lane.milli - 2, (low + high) // 2)
    )
    return DigestLines(core, "p1", lane)


def test_a_line_of_the_digest_begins_at_the_first_damp_reading_beyond_a_limit():
    assert damp(0, -1, 2).due_key() == END, "at the limits all is well"
    assert damp(0, 0, -2).due_key() == 5
    assert damp(0, 3, -2).due_key() == 3
    line = damp(0, 3, -2, 0)
    line.take(4)
    assert line.due_key() == 5
    line.take(6)
    assert line.due_key() == END


def test_a_probe_that_lies_at_no_known_place_is_followed_by_itself():
    drive = a_drive()
    drive.core.settings = SimpleNamespace(bins={}, piles={})
    course = drive._course("gone", ["lane"])
    assert (type(course), course.lanes, course.next_key()) == (Course, ["lane"], END)
