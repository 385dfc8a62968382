"""The course of a telling through trays, ends and changed settings: what waits, what is struck, who still hears."""

from dataclasses import replace

import pytest

from monitor.model.alarm_values import Fault
from monitor.model.events import Answer
from monitor.model.settings import Contact, DutyWindow, NoticePolicy
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import (
    By,
    Cause,
    DeskState,
    Ending,
    LineKind,
    Message,
    NoticeDesk,
    Phrases,
    PlaceWatch,
    UnreadDesk,
    compose,
)
from monitor.notices.watched import unknown_words
from tests.worlds.notice_cases import NOW, facts, yard

NOON = parse_time("2026-03-04T17:00:00Z")  # Wednesday, noon in New York
NIGHT = parse_time("2026-03-05T04:00:00Z")  # 23:00
MORNING = parse_time("2026-03-05T12:00:00Z")  # 07:00
AWAKE = {"quiet_start_minute": 0, "quiet_end_minute": 0, "digest": False}
HOT, WET = "p1/too-hot/p1-a", "b1/too-wet"


def desk_of(state=None, kind=NoticeDesk, policy=None, **contacts):
    return kind(state or DeskState(), yard(contacts=contacts, notices=policy or NoticePolicy()))


def cause(key=HOT, priority=Priority.HIGH, since=NOON, **more):
    place, alarm = key.split("/")[:2]
    words = {"text": f"{key} in full.", "short": f"{key} short"} | more
    return Cause(key=key, place=place, alarm=alarm, priority=priority, since=since, **words)


def run(desk, until):
    out = []
    while (due := desk.due()) is not None and due <= until:
        out += [
            ((due - NOON) // MINUTE_MS, draft.after, str(draft.reason), draft.values["keys"])
            for draft in desk.serve(due)
        ]
    return out


def waits(desk, contact="ann"):
    tray = desk.state.trays.get(contact)
    return [slip.key for slip in (*tray.gathering, *tray.held)] if tray else []


ANN, BEN = Contact(name="Ann", **AWAKE), Contact(name="Ben", order=2, **AWAKE)


def test_a_repeat_that_waits_to_be_gathered_goes_no_more_once_the_alarm_is_over():
    desk = desk_of(ann=ANN)
    desk.cause(NOON, cause(WET, Priority.MEDIUM))
    due = desk.due()
    desk.cause(due - SECOND_MS, cause("p1/hot", Priority.LOW))
    assert desk.serve(due) == []
    assert waits(desk) == [WET]
    assert desk.over(due + 1, WET) == []
    assert waits(desk) == []
    assert [key for *_, keys in run(desk, due + MINUTE_MS) for key in keys] == []


def test_a_new_message_that_waits_goes_as_over_and_nothing_twice():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause())
    assert waits(desk) == [HOT]
    assert desk.over(NIGHT + HOUR_MS, HOT) == []
    (draft,) = desk.serve(MORNING)
    assert ". Over since " in draft.text


@pytest.mark.parametrize(("priority", "everybody", "hears"), [
    (Priority.MEDIUM, False, []), (Priority.MEDIUM, True, ["ann", "ben"]), (Priority.HIGH, False, ["ann", "ben"]),
])  # fmt: skip
def test_of_an_end_hears_who_was_told_where_it_was_urgent_or_never_true(priority, everybody, hears):
    desk = desk_of(ann=ANN, ben=replace(BEN, order=1), cleo=replace(BEN, order=2))
    desk.cause(NOON, cause(priority=priority))
    found = desk.over(NOON + HOUR_MS, HOT, Message("All is well.", "well"), everybody=everybody)
    assert [one.after for one in found] == hears
    assert {one.text for one in found} <= {"All is well."}
    assert {one.values["priority"] for one in found} <= {"low"}


def test_of_an_end_nobody_hears_who_has_left_the_settings():
    desk = desk_of(ann=ANN, ben=replace(BEN, order=1))
    desk.cause(NOON, cause())
    after = desk_of(desk.state, ben=replace(BEN, order=1))
    assert [one.after for one in after.over(NOON + HOUR_MS, HOT)] == ["ben"]


def test_the_end_of_what_is_unknown_or_over_already_is_nothing():
    desk = desk_of(ann=ANN)
    assert desk.over(NOON, HOT) == []
    desk.cause(NOON, cause(one_time=True))
    assert desk.over(NOON, HOT) == []
    assert [line.kind for line in desk.state.lines] == [LineKind.CAME_ON]


def test_ends_are_lines_of_the_digest_in_their_own_words_or_in_those_of_the_alarm():
    desk = desk_of(ann=ANN)
    desk.cause(NOON, cause(short="Bay 1: too hot"))
    desk.cause(NOON, cause(WET, Priority.MEDIUM))
    desk.over(NOON + HOUR_MS, HOT)
    desk.over(NOON + HOUR_MS, WET, Message("Drained.", "Sunny wall bin: drained"))
    *_, own, given = desk.state.lines
    assert (own.kind, own.at, own.place) == (LineKind.OVER, NOON + HOUR_MS, "p1")
    assert own.text.startswith("Bay 1: over since ")
    assert own.text.endswith(": too hot")
    assert given.text == "Sunny wall bin: drained"


@pytest.mark.parametrize("answer", [Answer.SEEN, Answer.PUT_OFF])
def test_an_answer_takes_what_waits_off_the_trays_and_a_new_message_only_where_it_is_put_off(answer):
    desk = desk_of(ann=Contact(name="Ann", digest=False), ben=replace(BEN, order=1))
    desk.cause(NIGHT, cause())
    assert (waits(desk), waits(desk, "ben")) == ([HOT], [])
    assert desk.answered(NIGHT + 1, HOT, answer, NIGHT + DAY_MS if answer is Answer.PUT_OFF else None, by="Ben") == []
    assert waits(desk) == ([HOT] if answer is Answer.SEEN else [])
    telling = desk.state.tellings[HOT]
    assert (telling.answer, telling.answered_at, telling.answered_by) == (answer, NIGHT + 1, "Ben")
    assert telling.until == (NIGHT + DAY_MS if answer is Answer.PUT_OFF else None)
    assert telling.pass_on_at is None
    assert {told.repeat_at for told in telling.told.values()} == {None}


def test_what_is_out_of_service_is_kept_with_who_and_since_when_and_waits_on_no_tray():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause(short="Bay 1: too hot"))
    desk.answered(NIGHT + 1, HOT, Answer.OUT_OF_SERVICE, by="Ann")
    desk.answered(NIGHT + 2, "b1/overheating", Answer.OUT_OF_SERVICE, by="Ben")
    shut = {key: (one.at, one.place, one.by, one.short) for key, one in desk.state.out_of_service.items()}
    assert shut == {
        HOT: (NIGHT + 1, "p1", "Ann", "Bay 1: too hot"),
        "b1/overheating": (NIGHT + 2, "b1", "Ben", "b1/overheating"),
    }
    assert (waits(desk), desk.state.tellings) == ([], {})


def test_an_answer_to_nothing_changes_nothing():
    desk = desk_of(ann=ANN)
    for answer in (Answer.SEEN, Answer.NOT_ME, Answer.TAKEN_UP, Answer.PUT_OFF, Answer.BACK):
        assert desk.answered(NOON, HOT, answer, NOON + HOUR_MS) == []
    assert desk.state == DeskState()
    desk.cause(NOON, cause())
    assert desk.answered(NOON + 1, HOT, Answer.TAKEN_UP) == [], "nobody had answered"


def test_a_put_off_without_an_end_is_told_again_when_it_is_called():
    desk = desk_of(ann=ANN)
    desk.cause(NOON, cause())
    desk.answered(NOON + 1, HOT, Answer.PUT_OFF)
    assert [one.reason for one in desk.cause(NOON + HOUR_MS, cause())] == ["put off ended"]


def test_what_is_seen_and_called_once_more_says_nothing_and_keeps_the_newest_words():
    desk = desk_of(ann=ANN)
    desk.cause(NOON, cause())
    desk.answered(NOON + 1, HOT, Answer.SEEN)
    assert desk.cause(NOON + 2, cause(text="Now 180 °F.", short="now")) == []
    assert (desk.state.tellings[HOT].text, desk.state.tellings[HOT].short) == ("Now 180 °F.", "now")
    assert len(desk.cause(NOON + 3, cause(), anew=True)) + len(waits(desk)) == 1, (
        "another matter is told from the beginning"
    )
    assert desk.state.tellings[HOT].answer is None


def test_what_became_less_is_passed_on_to_nobody():
    desk = desk_of(ann=ANN, ben=BEN)
    desk.cause(NOON, cause(priority=Priority.MEDIUM))
    assert desk.state.tellings[HOT].pass_on_at is not None
    desk.cause(NOON + 1, cause(priority=Priority.LOW))
    assert desk.state.tellings[HOT].pass_on_at is None
    assert {who for _, who, *_ in run(desk, NOON + 9 * DAY_MS)} == {"ann"}


def test_a_line_of_the_digest_is_told_to_nobody_and_the_oldest_lines_go():
    desk = desk_of(ann=ANN)
    assert desk.cause(NOON, cause("p1/holding", Priority.LINE)) == []
    assert desk.state.tellings == {}
    for number in range(400):
        desk.line(NOON + number, "p1", f"line {number}")
    assert [desk.state.lines[0].text, len(desk.state.lines)] == ["line 0", 400]
    assert desk.state.lines[0].kind is LineKind.NOTED


def test_what_is_hushed_waits_on_no_tray_and_is_new_when_it_is_called_again():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause())
    desk.hush(HOT)
    desk.hush("nothing")
    assert (waits(desk), desk.state.tellings, run(desk, MORNING)) == ([], {}, [])
    desk.cause(NIGHT + 1, cause())
    assert waits(desk) == [HOT]


def test_a_digest_is_due_where_its_instant_has_come_or_where_one_waits_on_a_tray():
    desk = desk_of(ann=Contact(name="Ann", quiet_start_minute=21 * 60, quiet_end_minute=9 * 60))
    assert not desk.digest_due(NOON)
    desk.begin(NOON)
    digest_at = desk.due()
    assert (desk.digest_due(digest_at - 1), desk.digest_due(digest_at)) == (False, True)
    assert desk.serve(digest_at) == [], "it waits through the quiet hours"
    until = desk.due()
    assert digest_at < until < digest_at + DAY_MS
    assert (desk.digest_due(digest_at), desk.digest_due(until - 1), desk.digest_due(until)) == (False, False, True)
    assert [str(one.axis) for one in desk.serve(until)] == ["digest"]
    assert not desk.digest_due(until)
    desk.begin(until)
    assert desk.due() == digest_at + DAY_MS


def test_a_desk_whose_words_nobody_reads_tells_the_same_people_at_the_same_instants():
    found = []
    for kind in (NoticeDesk, UnreadDesk):
        desk = desk_of(kind=kind, ann=replace(ANN, digest=True), ben=BEN)
        desk.begin(NOON)
        drafts = desk.cause(NOON, cause()) + desk.cause(NOON, cause("p1/hot"))
        told = [(NOON, one.after, one.reason) for one in drafts]
        while (due := desk.due()) is not None and due <= NOON + 3 * HOUR_MS:
            drafts = desk.serve(due)
            told += [(due, one.after, one.reason) for one in drafts if str(one.axis) != "digest"]
        (over,) = [one for one in desk.over(NOON + 4 * HOUR_MS, HOT) if one.after == "ann"]
        found.append(told)
        if kind is UnreadDesk:
            assert (desk.state.lines, desk.state.digest_at, over.text) == ([], None, "")
            assert {one.text for one in drafts} == {""}
    assert found[0] == found[1]
    assert len(found[0]) > 4


# Words of any length.


@pytest.mark.parametrize(("length", "shown"), [(60, 60), (61, 60), (300, 60)])
def test_a_word_from_outside_is_cut_to_its_length(length, shown):
    say = Phrases(facts("p1"), yard())
    assert len(say.word("x" * length)) == shown
    assert say.word("") == ""


@pytest.mark.parametrize(("why", "shown"), [("x" * 120, 120), ("x" * 121, 120), ("no route.", 8), ("", 0)])
def test_a_reason_is_cut_to_its_length_and_has_no_full_stop(why, shown):
    say = Phrases(facts("", fault=Fault(what="source", name="mqtt", why=why)), yard())
    assert len(say.reason) == shown


@pytest.mark.parametrize(
    ("trend", "unit", "words"),
    [
        (None, "degC", ""),
        (0, "degC", ", steady"),
        (2_000, "degC", ", rising 2 °C an hour"),
        (-2_000, "degF", ", falling 3.6 °F an hour"),
    ],
)
def test_a_trend_is_told_in_the_unit_of_the_yard(trend, unit, words):
    assert Phrases(facts("p1", 50_000, trend=trend), yard(unit)).heading == words
    assert Phrases(facts("p1", 50_000), yard(unit)).difference(10_000) == ("10 °C" if unit == "degC" else "18 °F")


@pytest.mark.parametrize(
    ("side", "value", "words"),
    [
        (1, 49_999, " (back under 50 °C)"), (1, 50_000, ""), (1, 50_001, ""), (-1, 50_001, " (back over 50 °C)"),
        (-1, 49_999, ""), (0, 1, ""), (1, None, ""),
    ],
)  # fmt: skip
def test_a_number_that_is_right_again_says_so_beside_its_limit(side, value, words):
    say = Phrases(facts("p1", value, 50_000), yard("degC"), side)
    assert say.returned == words
    assert say.needs == (words or " (needs 50 °C)")
    assert Phrases(facts("p1", value), yard("degC"), side).returned == ""
    assert Phrases(facts("p1", value), yard("degC"), side).needs == ""


@pytest.mark.parametrize(("place", "shown"), [("b1", ("30 °C", "86 °F")), ("p1", ("29.9 °C", "85.9 °F"))])
def test_a_bins_numbers_are_whole_and_its_trend_has_no_pace(place, shown):
    for unit, words in zip(("degC", "degF"), shown, strict=True):
        say = Phrases(facts(place, 29_940, trend=2_000), yard(unit))
        assert say.value == words
        assert say.heading.startswith(", rising")
        assert ("hour" in say.heading) is (place == "p1")


@pytest.mark.parametrize(("more", "known"), [({}, True), ({"turned_at": NOW - 1}, False)])
def test_a_number_read_before_the_last_turning_holds_no_longer(more, known):
    message = compose("turning-due", facts("p1", 60_000, variant="cooled", **more), yard())
    assert message.known is known


@pytest.mark.parametrize(
    ("alarm", "probe", "named"),
    [
        ("silent", "p1-b", "a silent probe (north corner), "),
        ("silent", "", "a silent probe, "),
        ("too-hot", "p1-a", "too hot, "),
    ],
)
def test_an_end_names_the_probe_where_the_alarm_is_of_one_and_it_is_known(alarm, probe, named):
    message = compose("over", facts("p1", probe=probe, ending=Ending(alarm=alarm, until=NOW)), yard())
    assert message.text.startswith(f"Bay 1: {named}over since 15:10 ")


def test_a_group_tells_since_the_oldest_of_its_causes():
    desk = desk_of(ann=ANN)
    desk.cause(NOON, cause())
    for number, since in enumerate((NOON - HOUR_MS, NOON - 3 * HOUR_MS, NOON - 2 * HOUR_MS)):
        desk.cause(NOON + 1, cause(f"p1/x{number}", since=since))
    (group,) = desk.serve(NOON + MINUTE_MS)
    assert (str(group.axis), group.since) == ("group", NOON - 3 * HOUR_MS)


@pytest.mark.parametrize(
    ("told", "still_here", "who"),
    [
        (("ann",), ("ann",), "Ann has"),
        (("ann", "bea"), ("ann", "bea"), "Ann and Bea have"),
        (("ann", "bea", "cleo"), ("ann", "bea", "cleo"), "those told before have"),
        (("ann",), (), "those told before have"),
    ],
)
def test_who_did_not_answer_is_named_where_they_are_few_and_known(told, still_here, who):
    people = {one: replace(ANN, name=one.capitalize()) for one in told}
    desk = desk_of(**people)
    desk.cause(NOON, cause())
    after = desk_of(desk.state, zoe=BEN, **{one: people[one] for one in still_here})
    (passed_on,) = [one for one in after.serve(NOON + HOUR_MS) if one.after == "zoe"]
    assert passed_on.text.endswith(f" (Over to you: {who} not replied.)")


def test_who_is_off_duty_at_a_repeat_is_told_again_on_the_next_duty():
    office = DutyWindow(start_minute=8 * 60, end_minute=18 * 60)
    evening = DutyWindow(start_minute=18 * 60, end_minute=8 * 60)
    desk = desk_of(ann=replace(ANN, duty=(office,)), ben=replace(BEN, order=1, duty=(evening,)))
    start = NOON + 5 * HOUR_MS + 30 * MINUTE_MS  # 17:30
    assert [one.after for one in desk.cause(start, cause(since=start))] == ["ann"]
    told = [(minute, who) for minute, who, *_ in run(desk, NOON + 22 * HOUR_MS)]
    assert told[0] == (7 * 60 + 30, "ben")
    assert [who for minute, who in told if minute >= 20 * 60] == ["ann"], "from 08:00 on the next day"


def test_a_cause_that_comes_back_stands_behind_those_that_came_meanwhile():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause())
    desk.cause(NIGHT + 1, cause("p1/hot"))
    desk.over(NIGHT + 2, HOT)
    desk.cause(NIGHT + 3, cause(since=NIGHT))
    assert list(desk.state.tellings) == ["p1/hot", HOT]


@pytest.mark.parametrize(
    ("why", "since", "words"),
    [
        ("silent", 5, "its probes have been silent since Monday"),
        ("silent", None, "its probes are silent"),
        ("moisture silent", 5, "its moisture probes have been silent since Monday"),
        ("moisture silent", None, "its moisture probes are silent"),
        ("outside", 5, "its probes have been outside since Monday"),
        ("outside", None, "its probes lie outside"),
        ("never heard", None, "its probes were never heard"),
        ("uncounted", 5, "nothing that its probes sent counts yet"),
        ("unread", 5, "not read since Monday"),
        ("not empty", 5, "empty by the log, but something in it reads warm"),
        ("", 5, "no probe, and nobody has read it"),
    ],
)
def test_why_a_place_is_not_known_is_said_with_since_when(why, since, words):
    watch = PlaceWatch(place="p1", by=By.PROBES, known=False, last=since, why=why)
    assert unknown_words(watch, {5: "Monday"}.__getitem__) == words
