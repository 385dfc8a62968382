"""Each question at its edge: a slip is asked about, and its plausible neighbour is taken without a word."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.engine import Standing, Yard, beside_words, questions, questions_of_readings, why_unanswerable
from monitor.model.events import Answer
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT
from monitor.model.work import Work, WorkKind

NOW = T0 + 15 * DAY


@pytest.fixture(scope="module")
def drive():
    """Bay 1 warm for a fortnight, Bay 2 without a heap."""
    drive = Drive(yard())
    drive.hold(T0 + MIN, NOW, HOUR, p1_a=60, p1_b=60)
    drive.advance(NOW)
    return drive


def yard_of(drive, *entries, **more):
    known = [Standing(number, work) for number, work in enumerate(entries, 1)]
    return Yard(core=drive.engine.core, entries=known, now=drive.engine.last, place_of=drive.engine.place_of, **more)


def work(kind, place="p1", time=NOW, **more):
    return Work(time=time, place=place, kind=WorkKind(kind), **more)


def asked(drive, entry, *before):
    """The questions about an entry, without that of its age."""
    return questions(yard_of(drive, *before, far_back=False), entry)


@pytest.mark.parametrize(
    ("time", "question"),
    [
        (NOW - 14 * DAY, []),
        (NOW - 14 * DAY - 1, ["That is 14 days back (2 Nov 18:59). Is the day right?"]),
        (NOW - 16 * DAY + 1, ["That is 15 days back (31 Oct 20:00). Is the day right?"]),
    ],
)
def test_work_of_more_than_a_fortnight_ago_is_asked_about(drive, time, question):
    assert questions(yard_of(drive), work("note", time=time)) == question
    assert questions(yard_of(drive, far_back=False), work("note", time=time)) == []
    hand = [Reading(at, "hand:p1", 60_000_000, "Cel") for at in (NOW, time)]
    assert questions_of_readings(yard_of(drive), hand)[: len(question)] == question


@pytest.mark.parametrize(
    ("entry", "question"),
    [
        (work("turned", "b1"), 'Sunny bin is a worm bin; "turned" is work on heaps.'),
        (work("harvested"), 'Bay 1 is a place for heaps; "harvested" is work on worm bins.'),
        (work("turned", AMBIENT), 'ambient is the air of the yard; "turned" is work on heaps.'),
        (work("moved", to="p1"), "Bay 1 is where it lies already: nothing goes anywhere."),
        (
            work("moved", to="b1"),
            "Sunny bin is a worm bin, not a place for a heap: what goes there is its bedding from then on.",
        ),
    ],
)
def test_work_that_its_place_does_not_know_is_asked_about(drive, entry, question):
    assert asked(drive, entry) == [question]


@pytest.mark.parametrize(
    "entry",
    [work("watered"), work("watered", "b1"), work("harvested", "b1"), work("note", AMBIENT), work("moved", to="p2"),
     work("turned"), work("sampled", "p2"), work("watered", "p2"), work("seen", "p2")],
    ids=lambda entry: f"{entry.kind} {entry.place}",
)  # fmt: skip
def test_plausible_work_is_taken_without_a_word(drive, entry):
    assert asked(drive, entry) == []


def test_the_same_work_within_its_time_is_asked_about_by_its_nearest_entry(drive):
    edge = NOW - 6 * HOUR
    assert asked(drive, work("turned"), work("turned", time=edge)) == []
    assert asked(drive, work("turned"), work("turned", time=edge + 1, by="Ann")) == [
        "Bay 1 was turned 13:00 already (1, Ann). Was it turned once more? Turnings less than 6 h apart count as one."
    ]
    far, near = work("watered", time=NOW - 20 * MIN), work("watered", time=NOW - 4 * MIN)
    assert asked(drive, work("watered"), far, near) == [
        "Bay 1 was watered 18:56 already (2). Was it watered once more?"
    ]
    later = work("watered", time=NOW + 3 * MIN)
    assert asked(drive, work("watered"), near, later) == [
        "Bay 1 was watered 19:03 already (2). Was it watered once more?"
    ]
    assert asked(drive, work("watered"), work("watered", "b1"), work("seen")) == []
    not_recorded = Yard(
        core=drive.engine.core, entries=[Standing(0, near)], now=NOW, place_of=drive.engine.place_of, far_back=False
    )
    assert questions(not_recorded, work("watered")) == ["Bay 1 was watered 18:56 already. Was it watered once more?"]


def test_a_heap_that_would_end_is_named_with_its_beginning(drive):
    would_end = (
        "Bay 1 holds a heap that was built 1 Nov 19:00: it would end, after 14 days of its rule, and another would begin. "
        "Is that so?"
    )
    assert asked(drive, work("built")) == [would_end]
    earlier = asked(drive, work("built", time=T0 - MIN - HOUR))
    assert earlier == ["Bay 1 holds a heap that was built 1 Nov 19:00; this is earlier. Is the time right?"]


def test_the_building_that_the_configuration_states_may_be_logged_once(drive):
    same = work("built", time=T0)
    assert asked(drive, same) == []
    assert asked(drive, work("built", time=T0 + 1)) != []
    again = asked(drive, same, work("built", time=T0))
    assert [one[:31] for one in again] == ["Bay 1 was built 1 Nov 19:00 alr", "Bay 1 holds a heap that was bui"]


@pytest.mark.parametrize(
    ("entry", "question"),
    [
        (work("turned", time=T0 - HOUR), "Bay 1 was built 1 Nov 19:00; this is earlier. Is the time right?"),
        (work("fan", time=T0 - HOUR), "Bay 1 was built 1 Nov 19:00; this is earlier. Is the time right?"),
        (work("turned", "p2"), "Nothing lies on Bay 2, as far as the record knows. Is the place right?"),
        (
            work("added", "p2"),
            "Nothing lies on Bay 2, as far as the record knows. A heap would begin with it. Is the place right?",
        ),
    ],
)
def test_work_on_a_heap_that_was_not_there_is_asked_about(drive, entry, question):
    assert asked(drive, entry) == [question]


def test_looking_at_a_heap_before_it_was_built_asks_nothing(drive):
    assert asked(drive, work("seen", time=T0 - HOUR)) == asked(drive, work("note", time=T0 - HOUR)) == []


@pytest.mark.parametrize(
    ("entry", "question"),
    [
        (
            work("probe out", "p2", probe="p1-a"),
            "By the record, p1-a is in Bay 1, not in Bay 2. Is the place right?",
        ),
        (
            work("probe in", probe="b1-m"),
            "b1-m is the last moisture probe of Sunny bin, which nobody would watch without it. Is that so?",
        ),
        (
            work("probe in", probe="b2-t"),
            "b2-t is the last thermometer of Shed bin, which nobody would watch without it. Is that so?",
        ),
        (work("probe out", probe="p1-a"), None),
        (work("probe in", "p2", probe="p1-a"), None),  # p1-b stays in Bay 1
        (work("probe in", AMBIENT, probe="p2-a"), None),  # nothing lies on Bay 2
        (work("probe in", probe="b1-t"), None),  # b1-u stays in the bin
        (work("probe in", probe="air"), None),
        (work("probe in", "b1", probe="gone"), None),
        (work("turned", probe="b1-m"), None),
    ],
)
def test_a_probe_that_is_elsewhere_or_the_last_of_its_kind_is_asked_about(drive, entry, question):
    assert asked(drive, entry) == ([question] if question else [])


def test_a_probe_that_lies_nowhere_cannot_be_taken_out():
    drive = Drive(yard())
    drive.work(T0 + HOUR, "p1", "probe out", probe="p1-a")
    drive.settle(T0 + 2 * HOUR, yard(probes={**yard().probes, "spare": core("")}))
    (question,) = asked(drive, work("probe out", probe="spare"))
    assert question == "By the record, spare is nowhere. Is the place right?"


def test_of_readings_of_several_hours_the_first_says_whether_a_heap_lay_there():
    drive = Drive(yard(probes={}, piles={"p1": yard().piles["p1"]}))
    drive.work(T0 + HOUR, "p1", "emptied")

    def rows(*hours, celsius=50):
        return [Reading(T0 + round(hour * HOUR), "hand:p1", celsius * 1_000_000, "Cel") for hour in hours]

    assert questions_of_readings(yard_of(drive), rows(0.5, 2)) == []
    assert len(questions_of_readings(yard_of(drive), rows(2, 3))) == 1
    assert questions_of_readings(yard_of(drive), [*rows(2), *rows(3, celsius=77)]) == [], "a danger waits for no answer"
    assert questions_of_readings(yard_of(drive), []) == []


def test_a_cover_of_a_heap_is_raw_material_until_that_heap_has_met_its_rule():
    drive = Drive(yard())
    drive.work(T0 + HOUR, "p2", "built")
    cover = work("covered", "p1", T0 + 5 * DAY, what=drive.engine.state.batches.lying["p2"])
    drive.hold(T0 + 2 * HOUR, T0 + 2 * DAY, HOUR, p2_a=60)
    assert "brings raw material in" in asked(drive, cover)[0]
    assert asked(drive, work("covered", "p2", T0 + 5 * DAY, what=cover.what)) == [], "a heap covers itself"
    drive.hold(T0 + 2 * DAY + HOUR, T0 + 4 * DAY, HOUR, p2_a=60)
    assert asked(drive, cover) == []


# Readings by hand beside the record -------------------------------------------------------------------------------------


def read(*celsius, place="p1", at=NOW):
    return {"rows": [[at, f"hand:{place}:spot {n}", round(one * 1_000_000), "Cel"] for n, one in enumerate(celsius)]}


@pytest.mark.parametrize(
    ("celsius", "words"),
    [
        ((55,), []),
        ((54.999,), ["p1-a shows 60 °C: look at the probe."]),
        ((65,), []),
        ((65.001,), ["p1-a shows 60 °C: look at the probe."]),
        ((40, 58), []),  # one of the spots agrees
    ],
)
def test_a_reading_by_hand_five_degrees_off_sends_people_to_the_probe(drive, celsius, words):
    assert beside_words(drive.engine.core, read(*celsius)) == words


def test_a_place_that_nobody_knows_has_nothing_beside_it(drive):
    assert beside_words(drive.engine.core, read(10, place="gone")) == []
    assert beside_words(drive.engine.core, read(10, place="p2")) == [], "no heap ever lay there"


def test_a_reading_where_the_log_says_that_nothing_lies_is_told_that_little_rings():
    drive = Drive(yard())
    drive.work(T0 + HOUR, "p1", "emptied")
    drive.work(T0 + 2 * HOUR, "b1", "emptied")
    heap = "By the log Bay 1 is empty, so nothing but a fire is told: log the heap there as built."
    bed = "By the log Sunny bin is empty, so nobody is told: log what went into it (bedded, fed), or undo the emptying."
    beside = drive.engine.core
    assert beside_words(beside, read(50, at=T0 + 3 * HOUR)) == [heap]
    assert beside_words(beside, read(50, at=T0 + 59 * MIN)) == [], "it lay there then"
    assert beside_words(beside, read(20, place="b1", at=T0 + 2 * HOUR)) == [bed]
    assert beside_words(beside, read(20, place="b1", at=T0 + 2 * HOUR - 1)) == []
    assert beside_words(beside, read(20, place="b2", at=T0 + 3 * HOUR)) == []


# Answers that would change nothing --------------------------------------------------------------------------------------


def small_yard():
    return Drive(yard(piles={"p1": yard().piles["p1"]}, probes={"b1-t": bedding("b1"), "p1-a": core("p1")}))


def test_an_answer_that_changes_nothing_is_told_why():
    drive = small_yard()
    drive.hold(T0, T0 + 3 * HOUR, p1_a=78, b1_t=31)
    state, hot, warm = drive.engine.state, "p1/too-hot", "b1/overheating"

    def why(answer, key=hot):
        return why_unanswerable(state, key, answer)

    assert why(Answer.SEEN) == why(Answer.PUT_OFF) == why(Answer.OUT_OF_SERVICE) == ""
    assert why(Answer.TAKEN_UP) == (
        f'"{hot}" is open and nobody has answered it; "taken up again" says nothing about it now'
    )
    assert why(Answer.SEEN, "p2/too-hot") == f'"p2/too-hot" has not rung; open are {warm}, {hot}'
    drive.answer(T0 + 4 * HOUR, hot, "seen")
    assert why(Answer.SEEN) == f'"{hot}" has been seen already by Ann; "seen" says nothing about it now'
    drive.answer(T0 + 5 * HOUR, warm, "put off", T0 + 9 * HOUR)
    assert why(Answer.SEEN, warm) == (
        f'"{warm}" has been put off by Ann; "seen" says nothing about it now: take it up again first'
    )
    drive.answer(T0 + 6 * HOUR, hot, "out of service")
    assert why(Answer.SEEN) == f'"{hot}" is out of service by Ann; "seen" says nothing about it now'


def test_an_answer_to_what_is_over_is_told_why():
    drive = small_yard()
    state, warm = drive.engine.state, "b1/overheating"
    assert why_unanswerable(state, warm, Answer.SEEN) == f'"{warm}" has not rung; no alarm is open'
    drive.hold(T0, T0 + HOUR, b1_t=31, p1_a=60)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 4 * HOUR, b1_t=25, p1_a=60)
    assert why_unanswerable(state, warm, Answer.SEEN) == ""
    assert why_unanswerable(state, warm, Answer.PUT_OFF) == (
        f'"{warm}" is over and waits only to be seen; "put off" says nothing about it now'
    )
    assert why_unanswerable(state, "x", Answer.SEEN) == f'"x" has not rung; open are {warm}'
    drive.answer(T0 + 4 * HOUR + MIN, warm, "seen")
    assert why_unanswerable(state, warm, Answer.SEEN) == f'"{warm}" is over; there is nothing to answer'
    assert why_unanswerable(state, "x", Answer.SEEN) == '"x" has not rung; no alarm is open'


def test_an_answer_to_a_lesser_alarm_is_told_that_a_worse_one_covers_it():
    drive = small_yard()
    drive.hold(T0, T0 + HOUR, b1_t=31, p1_a=60)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=37, p1_a=60)
    state = drive.engine.state
    assert why_unanswerable(state, "b1/overheating", Answer.SEEN) == (
        '"b1/overheating" is muted, by work that was logged or by a worse alarm; "seen" says nothing about it now'
    )
    assert why_unanswerable(state, "x", Answer.SEEN) == '"x" has not rung; open are b1/worms-in-danger'
