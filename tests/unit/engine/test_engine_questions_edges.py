"""Questions at their edges: how far back is far, how near is the same, whose probe is the last, and who is named in them."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.asking.entry_questions import Standing, Yard, lost_by, questions, questions_of_readings
from monitor.engine.asking.yard_sizes import BedSpace, YardSizes
from monitor.engine.context.link_state import LinkState
from monitor.engine.handlers.link_news import LINK_DELAY_MS
from monitor.model.readings import Reading
from monitor.model.settings import Bin, Pile
from monitor.model.units import Quantity
from monitor.model.words import Method, RuleState
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState

NOW = T0 + 4 * DAY
LONG = "The long row of bays behind the second shed by the wall"
CUT = "The long row of bays behin…d by the wall"


@pytest.fixture
def drive():
    probes = {
        "p1-a": core("p1", name="The probe with the longest name of them"), "b1-t": bedding("b1"),
        "b1-m": bedding("b1", Quantity.MOISTURE), "air": air(),
    }  # fmt: skip
    piles = {
        "p1": Pile(name=LONG, rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
    }
    made = Drive(yard(piles=piles, bins={"b1": Bin(name="Sunny bin"), "b2": Bin(name="Shed bin")}, probes=probes))
    made.hold(T0 + MIN, NOW, HOUR, p1_a=60, b1_t=20, b1_m=75, air=10)
    return made


def done(kind, place="p1", at=NOW, **more):
    return Work(time=at, kind=WorkKind(kind), place=place, **more)


def asked(drive, work, *before, now=NOW, **more):
    known = [Standing(number, one) for number, one in enumerate(before, 1)]
    return questions(Yard(core=drive.engine.core, entries=known, now=now, place_of=drive.engine.place_of, **more), work)


# The day and the place -------------------------------------------------------------------------------------------


def test_a_day_is_far_back_after_two_weeks_unless_the_sitting_has_said_so(drive):
    entry, far = done("watered", at=NOW), 14 * DAY
    assert asked(drive, entry, now=NOW + far) == []
    (question,) = asked(drive, entry, now=NOW + far + 1)
    assert question.startswith("That is 14 days back (")
    assert asked(drive, entry, now=NOW + far + 1, far_back=False) == []


@pytest.mark.parametrize(
    ("work", "question"),
    [
        (done("turned", "b1"), 'Sunny bin is a worm bin; "turned" is work on heaps.'),
        (done("fed"), f'{CUT} is a place for heaps; "fed" is work on worm bins.'),
        (done("moved", to="p1"), f"{CUT} is where it lies already: nothing goes anywhere."),
        (done("split", to="b1"), "Sunny bin is a worm bin, not a place for a heap: what goes there is its bedding"),
        (done("turned", "p2"), "Nothing lies on Bay 2, as far as the record knows. Is the place right?"),
        (done("added", "p2", what="leaves"), "the record knows. A heap would begin with it. Is the place right?"),
        (done("turned", at=T0 - 1), f"{CUT} was built"),
    ],
)
def test_where_no_such_work_is_done_people_are_asked(drive, work, question):
    assert any(question in one for one in asked(drive, work))


def test_a_name_of_more_than_forty_letters_is_cut_in_a_question(drive):
    assert len(CUT) == 40
    (question,) = asked(drive, done("probe out", "p2", probe="p1-a"))
    assert question == f"By the record, The probe with t…of them is in {CUT}, not in Bay 2. Is the place right?"


def test_a_delivery_that_no_entry_brought_is_asked_about_where_the_whole_log_is_known(drive):
    entry = done("added", what="d9")
    assert any("There is no d9 in the record." in one for one in asked(drive, entry, done("turned", at=T0)))
    assert not any("d9" in one for one in asked(drive, entry)), "no log is known"
    assert not any("d9" in one for one in asked(drive, entry, done("turned", at=T0), whole_log=False))


# Once more? ------------------------------------------------------------------------------------------------------


def test_the_same_work_twice_within_its_time_is_asked_about(drive):
    once = done("turned", by="Ann")
    assert asked(drive, done("turned", at=NOW - 6 * HOUR), once) == []
    assert asked(drive, done("turned", at=NOW - 6 * HOUR + 1), once) != []
    (question,) = asked(drive, done("turned", at=NOW - MIN), once)
    assert "already (1, Ann). Was it turned once more? Turnings less than 6 h apart count as one." in question
    (watered,) = asked(drive, done("watered", at=NOW - MIN), done("watered"))
    assert "Was it watered once more?" in watered
    assert "Turnings" not in watered
    assert asked(drive, done("watered", at=NOW - MIN), done("watered", "p2"), done("turned")) == []


def test_of_several_the_nearest_in_time_is_named(drive):
    before = (done("turned", at=NOW - 3 * HOUR, by="Bea"), done("turned", at=NOW - HOUR, by="Ann"))
    (question,) = asked(drive, done("turned", at=NOW - 2 * HOUR + MIN), *before)
    assert "(2, Ann)" in question


# The last probe of a place ---------------------------------------------------------------------------------------


def test_the_last_probe_of_its_kind_is_not_carried_off_without_a_question(drive):
    said = "is the last thermometer of"
    assert any(said in one for one in asked(drive, done("probe in", "p2", probe="p1-a")))
    assert any(said in one for one in asked(drive, done("probe in", "b2", probe="b1-t")))
    assert any(
        "b1-m is the last moisture probe of Sunny bin" in one
        for one in asked(drive, done("probe in", "b2", probe="b1-m"))
    )
    assert asked(drive, done("probe in", "b1", probe="b1-t")) == [], "it is there"
    assert asked(drive, done("probe in", "b1", probe="air")) == [], "nothing lies in the air"
    assert asked(drive, done("probe in", "b1", probe="no such")) == []
    drive.work(NOW + MIN, "p1", "emptied")
    assert asked(drive, done("probe in", "b2", probe="p1-a")) == [], "an empty place needs none"


def test_another_probe_of_the_kind_stays_and_nobody_is_asked(drive):
    settings = drive.engine.state.settings
    more = {**settings.probes, "p1-b": core("p1"), "b1-u": bedding("b1")}
    drive.settle(NOW + MIN, replace(settings, probes=more))
    assert asked(drive, done("probe in", "p2", probe="p1-a")) == []
    assert asked(drive, done("probe in", "b2", probe="b1-t")) == []
    drive.engine.state.outings["b1-u"] = OutingState(out=NOW)
    assert asked(drive, done("probe in", "b2", probe="b1-t")) != [], "the other lies outside"
    drive.engine.state.outings["p1-b"] = OutingState(out=NOW)
    assert asked(drive, done("probe in", "p2", probe="p1-a")) == [], "a core probe that is out belongs to its heap"


def test_a_probe_that_is_elsewhere_is_not_taken_out_here(drive):
    (question,) = asked(drive, done("probe out", "b2", probe="b1-t"))
    assert question == "By the record, b1-t is in Sunny bin, not in Shed bin. Is the place right?"
    drive.engine.state.carried.clear()
    assert asked(drive, done("probe out", "b1", probe="b1-t")) == []


# What would end or be lost ---------------------------------------------------------------------------------------


def test_a_heap_that_would_end_is_told_with_its_progress_unless_its_rule_is_met(drive):
    (question,) = asked(drive, done("emptied"))
    assert question == f"The heap of {CUT} would end with it, after 3 days of its rule. Is that so?"
    drive.run("p1").rule = RuleState.MET
    assert asked(drive, done("emptied")) == []


def test_a_heap_that_is_built_where_one_lies_would_end_that_one(drive):
    (question,) = asked(drive, done("built"))
    assert "it would end, after 3 days of its rule, and another would begin. Is that so?" in question
    (earlier,) = asked(drive, done("built", at=T0 - HOUR))
    assert earlier.endswith("; this is earlier. Is the time right?")
    assert asked(drive, done("built", at=T0)) == [], "it says what the configuration says"
    assert asked(drive, done("built", at=T0), done("built", at=T0)) != []
    assert asked(drive, done("built", at=T0 - HOUR), instead=done("built", at=T0)) == [], "its beginning is put right"


def test_progress_is_lost_by_what_is_raw_and_comes_in(drive):
    of = drive.engine.core
    assert lost_by(of, done("added", what="manure")).so_far == "3 days"
    assert lost_by(of, done("added", "p2", what="manure")) is None
    assert lost_by(of, done("moved", to="p1")) is None, "nothing goes anywhere"
    assert lost_by(of, done("turned")) is None
    (question,) = asked(drive, done("added", what="manure"))
    assert question == f"{CUT} becomes raw again: 3 days are lost. Is that so?"


# Readings --------------------------------------------------------------------------------------------------------


def test_a_reading_deeper_than_its_bed_is_asked_about(drive):
    sizes = YardSizes({"b1": BedSpace(rim_mm=400)})
    of = Yard(core=drive.engine.core, entries=[], now=NOW, place_of=drive.engine.place_of, sizes=sizes)
    rows = [Reading(NOW, "hand:b1", 20_000_000, "Cel")]
    assert questions_of_readings(of, rows, 400) == questions_of_readings(of, rows) == []
    (question,) = questions_of_readings(of, rows, 401)
    assert "Sunny bin can be 40 cm deep" in question
    assert questions_of_readings(of, [], 401) == []
    (heap,) = questions_of_readings(of, [Reading(NOW, "hand:p1", 60_000_000, "Cel")], 2_000)
    assert "nobody reaches" in heap


# Links -----------------------------------------------------------------------------------------------------------


def link(drive, at, up, why="refused", name="mqtt"):
    drive.feed(at, "link", {"what": "source", "name": name, "up": up, "why": why})


def test_a_link_is_told_once_it_has_been_down_for_five_minutes(drive):
    link(drive, NOW + MIN, up=False)
    drive.advance(NOW + MIN + LINK_DELAY_MS - 1)
    assert drive.alarms("link") == []
    drive.advance(NOW + MIN + LINK_DELAY_MS)
    assert [state for *_, state in drive.alarms("link")] == ["unacknowledged"]
    link(drive, NOW + HOUR, up=True)
    assert [state for *_, state in drive.alarms("link")][-1] != "unacknowledged"


def test_a_link_that_is_back_in_time_is_never_told_and_a_new_reason_is(drive):
    link(drive, NOW + MIN, up=False)
    link(drive, NOW + 2 * MIN, up=False, why="no route")
    assert drive.engine.state.links["mqtt"] == LinkState("source", False, NOW + MIN, "no route")
    link(drive, NOW + 3 * MIN, up=True)
    drive.advance(NOW + HOUR)
    assert drive.alarms("link") == []
    link(drive, NOW + HOUR + MIN, up=False)
    drive.advance(NOW + 2 * HOUR)
    link(drive, NOW + 2 * HOUR + MIN, up=False, why="a wrong password")
    assert "a wrong password" in drive.engine.words("/link/mqtt", NOW + 2 * HOUR + 2 * MIN).text
