"""The notice desk by example: who hears what, and when."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from monitor.model.effects import EffectKind
from monitor.model.events import Answer
from monitor.model.settings import Contact, DutyWindow, NoticePolicy
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import Cause, DeskState, Message, NoticeDesk, local
from tests.worlds.notice_cases import yard

NOON = parse_time("2026-03-04T17:00:00Z")  # Wednesday, noon in New York
NIGHT = parse_time("2026-03-05T04:00:00Z")  # 23:00
MORNING = parse_time("2026-03-05T12:00:00Z")  # 07:00
AWAKE = {"quiet_start_minute": 0, "quiet_end_minute": 0}


def desk_of(policy=None, words=None, **contacts):
    settings = yard(contacts=contacts, notices=policy or NoticePolicy())
    return NoticeDesk(DeskState(), settings, words)


def cause(key="p1/too-hot/p1-a", priority=Priority.HIGH, since=NOON, **more):
    place, alarm = key.split("/")[:2]
    words = {"text": f"{key} in full.", "short": f"{key} short", "act": "Do it."} | more
    return Cause(key=key, place=place, alarm=alarm, priority=priority, since=since, **words)


def run(desk, until):
    """Serve each deadline at its instant; return (instant, draft) pairs."""
    out = []
    while (due := desk.due()) is not None and due <= until:
        out += [(due, draft) for draft in desk.serve(due)]
        assert desk.due() is None or desk.due() > due
    return out


def brief(pairs, start=NOON):
    return [((at - start) // MINUTE_MS, draft.after, str(draft.axis)) for at, draft in pairs]


def test_a_draft_says_all_that_the_effect_needs():
    desk = desk_of(ann=Contact(name="Ann", channels=("mail", "phone")))
    (draft,) = desk.cause(NOON, cause(batch="p1-2026-03-01"))
    assert (draft.kind, draft.axis, draft.place, draft.after) == (EffectKind.NOTICE, "new", "p1", "ann")
    assert (draft.before, draft.reason, draft.probe, draft.since) == (None, "came on", "p1-a", NOON)
    assert draft.text == "p1/too-hot/p1-a in full."
    assert draft.values == {
        "alarm": "too-hot",
        "priority": "high",
        "keys": ["p1/too-hot/p1-a"],
        "channels": ["mail", "phone"],
        "batch": "p1-2026-03-01",
    }


def test_without_contacts_all_goes_to_the_page_day_and_night():
    desk = desk_of()
    (draft,) = desk.cause(NIGHT, cause(priority=Priority.LOW))
    assert (draft.after, draft.values["channels"]) == ("page", [])


def test_repeats_and_passing_on_until_somebody_answers():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE), ben=Contact(name="Ben", order=2, **AWAKE))
    assert [one.after for one in desk.cause(NOON, cause())] == ["ann"]
    pairs = run(desk, NOON + 5 * HOUR_MS)
    assert brief(pairs) == [
        (60, "ben", "passed on"),
        (120, "ann", "repeat"),
        (180, "ben", "repeat"),
    ]
    assert pairs[0][1].text == "p1/too-hot/p1-a in full. (Over to you: Ann has not replied.)"
    assert pairs[1][1].text == "p1/too-hot/p1-a short. Do it. (Still on after 2 h; nobody on it yet.)"
    assert desk.answered(NOON + 5 * HOUR_MS + 1, "p1/too-hot/p1-a", Answer.SEEN, by="Ann") == []
    assert run(desk, NOON + 5 * DAY_MS) == []


def test_repeats_end_after_their_number():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    assert len(run(desk, NOON + 10 * DAY_MS)) == NoticePolicy().repeats


def test_fresh_words_are_asked_for_when_told_again():
    asked = []

    def words(key, at):
        asked.append((key, at - NOON))
        return Message("Now 180 °F. Do this and that.", "Now 180 °F", act="Do it.")

    desk = desk_of(words=words, ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    ((_, draft),) = run(desk, NOON + 2 * HOUR_MS)
    assert draft.text == "Now 180 °F. Do it. (Still on after 2 h; nobody on it yet.)"
    assert asked[-1] == ("p1/too-hot/p1-a", 2 * HOUR_MS)


def test_fifty_alarms_in_a_minute_are_two_messages_and_the_highest_apart():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    drafts = []
    for number in range(50):
        drafts += [(number, one) for one in desk.cause(NOON + number * SECOND_MS, cause(f"p1/hot/{number}"))]
    (fire,) = desk.cause(NOON + 50 * SECOND_MS, cause("p2/fire/x", Priority.HIGHEST))
    assert fire.axis == "new"
    assert fire.values["priority"] == "highest"
    assert [number for number, _ in drafts] == [0]
    ((at, group),) = run(desk, NOON + 10 * MINUTE_MS)
    assert (at, group.axis) == (NOON + MINUTE_MS, "group")
    assert len(group.values["keys"]) == 49
    assert group.place == "p1"
    lines = group.text.splitlines()
    assert lines[0] == "p1/hot/1 short, and 48 more."
    assert lines[1].startswith("1. p1/hot/1 in full."), "what is urgent says what to do in a group too"
    assert lines[-1] == "21. … and 29 more."


def test_what_goes_at_once_waits_for_no_group_and_makes_none_wait():
    """Where nothing can be stored, a minute is long: nobody waits for it because of another message."""
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("p1/hot", Priority.MEDIUM))
    (disk,) = desk.cause(NOON + 5 * SECOND_MS, cause("/disk", Priority.HIGH, at_once=True))
    assert (disk.axis, disk.values["keys"]) == ("new", ["/disk"])
    assert desk.cause(NOON + 6 * SECOND_MS, cause("p1/too-hot", Priority.HIGH)) == [], "as long as before"
    ((at, late),) = run(desk, NOON + MINUTE_MS)
    assert (at, late.values["keys"]) == (NOON + MINUTE_MS, ["p1/too-hot"])


def test_a_group_puts_the_worst_first():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("p1/silent/p1-a", Priority.MEDIUM))
    desk.cause(NOON + 1, cause("p1/hot", Priority.MEDIUM))
    desk.cause(NOON + 2, cause("b1/ready", Priority.LOW, one_time=True))
    desk.cause(NOON + 3, cause("p2/too-hot", Priority.HIGH))
    ((_, group),) = run(desk, NOON + HOUR_MS)
    assert group.values["keys"] == ["p2/too-hot", "p1/hot", "b1/ready"]
    assert [line.partition(" ")[2].split()[1] for line in group.text.splitlines()[1:]] == ["in", "short.", "in"], (
        "what is told only once stands there in full"
    )
    assert (group.place, group.values["priority"]) == ("", "high")


def test_one_that_waited_alone_keeps_its_occasion():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("p1/silent/p1-a", Priority.MEDIUM))
    desk.cause(NOON + 1, cause("p1/hot", Priority.MEDIUM))
    ((at, draft),) = run(desk, NOON + HOUR_MS)
    assert (at, draft.axis, draft.text) == (NOON + MINUTE_MS, "new", "p1/hot in full.")


def test_quiet_hours_hold_what_is_not_worth_waking_for():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    assert desk.cause(NIGHT, cause("p1/silent/p1-a", Priority.MEDIUM)) == []
    assert desk.cause(NIGHT + 1, cause("p1/holding", Priority.LOW, one_time=True)) == []
    assert len(desk.cause(NIGHT + 2, cause("p2/too-hot", Priority.HIGH, through_quiet=True))) == 1
    assert len(desk.cause(NIGHT + 3, cause("p2/fire", Priority.HIGHEST))) == 1
    for number, key in enumerate(("p2/too-hot", "p2/fire")):
        desk.answered(NIGHT + 4 + number, key, Answer.SEEN, by="Ann")
    ((at, group),) = run(desk, MORNING + MINUTE_MS)
    assert (at, group.axis) == (MORNING, "group")
    assert group.values["keys"] == ["p1/silent/p1-a", "p1/holding"]


def test_what_is_marked_goes_through_quiet_hours():
    desk = desk_of(ann=Contact(name="Ann"))
    assert len(desk.cause(NIGHT, cause("p1/x", Priority.MEDIUM, through_quiet=True))) == 1
    desk = desk_of(ann=Contact(name="Ann"))
    assert desk.cause(NIGHT, cause("b1/overheating", Priority.HIGH)) == []


def test_what_ended_or_was_seen_while_it_waited_is_still_told_as_such():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM))
    desk.over(NIGHT + HOUR_MS, "p1/hot")
    ((_, draft),) = run(desk, MORNING)
    assert draft.text == "p1/hot short. Over since 00:00."
    assert draft.values["priority"] == "low"
    desk.cause(MORNING + 15 * HOUR_MS + 30 * MINUTE_MS, cause("p1/hot", Priority.MEDIUM, since=MORNING))
    desk.answered(MORNING + 16 * HOUR_MS, "p1/hot", Answer.SEEN, by="Ben")
    ((_, draft),) = run(desk, MORNING + DAY_MS)
    assert draft.text == "p1/hot in full. (Ben has been on it since yesterday 23:00.)"
    assert desk.due() is None


def test_the_end_of_a_high_alarm_is_one_message_to_those_told():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE), ben=Contact(name="Ben", order=2, **AWAKE))
    desk.cause(NOON, cause())
    desk.answered(NOON + 1, "p1/too-hot/p1-a", Answer.SEEN)
    (draft,) = desk.over(NOON + 2 * HOUR_MS, "p1/too-hot/p1-a", Message("It is safe again.", "safe"))
    assert (draft.after, draft.axis, draft.reason, draft.text) == ("ann", "new", "over", "It is safe again.")
    assert desk.over(NOON + 3 * HOUR_MS, "p1/too-hot/p1-a") == []
    desk.cause(NOON + 4 * HOUR_MS, cause("p1/hot", Priority.MEDIUM))
    assert desk.over(NOON + 5 * HOUR_MS, "p1/hot") == []
    assert desk.state.tellings == {}


@pytest.mark.parametrize(("told_ago", "at_once"), [(HOUR_MS, True), (3 * HOUR_MS, False)])
def test_an_end_at_night_reaches_those_who_are_up(told_ago, at_once):
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    desk.cause(NIGHT, cause(through_quiet=True))
    desk.answered(NIGHT + 1, "p1/too-hot/p1-a", Answer.SEEN)
    assert bool(desk.over(NIGHT + told_ago, "p1/too-hot/p1-a")) is at_once
    assert len(run(desk, MORNING)) == (0 if at_once else 1)


def test_a_cause_that_comes_back_after_its_end_is_new_and_recalls_the_waiting_end():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    assert desk.over(NOON + 1, "p1/too-hot/p1-a") == []  # waits in the gathering minute
    assert desk.cause(NOON + 2, cause(since=NOON + 2)) == []
    ((_, draft),) = run(desk, NOON + MINUTE_MS)
    assert (draft.axis, draft.reason) == ("new", "came on")


def test_put_off_is_quiet_until_then_and_told_again():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    until = NOON + 8 * HOUR_MS
    desk.answered(NOON + 1, "p1/too-hot/p1-a", Answer.PUT_OFF, until=until, by="Ann")
    assert run(desk, until) == []
    assert desk.cause(until - 1, cause()) == []
    (draft,) = desk.cause(until, cause())
    assert (draft.axis, draft.reason) == ("repeat", "put off ended")
    assert draft.text.endswith(" (Put off until now; still on.)")
    assert brief(run(desk, until + 2 * HOUR_MS), until) == [(120, "ann", "repeat")]


def test_out_of_service_says_nothing_until_it_is_back():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    desk.answered(NOON + 1, "p1/too-hot/p1-a", Answer.OUT_OF_SERVICE, by="Ann")
    assert desk.cause(NOON + 2, cause()) == []
    assert desk.over(NOON + 3, "p1/too-hot/p1-a") == []
    assert desk.cause(NOON + 4, cause()) == []
    assert run(desk, NOON + DAY_MS) == []
    desk.answered(NOON + DAY_MS, "p1/too-hot/p1-a", Answer.BACK)
    assert len(desk.cause(NOON + DAY_MS, cause())) == 1


def test_taken_up_again_tells_at_once():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    desk.answered(NOON + 1, "p1/too-hot/p1-a", Answer.SEEN)
    (draft,) = desk.answered(NOON + HOUR_MS, "p1/too-hot/p1-a", Answer.TAKEN_UP)
    assert draft.text.endswith(" (Open again.)")
    assert desk.cause(NOON + HOUR_MS, cause()) == []


def test_a_cause_that_is_on_already_says_nothing_unless_more_urgent():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause(priority=Priority.MEDIUM))
    assert desk.cause(NOON + HOUR_MS, cause(priority=Priority.MEDIUM)) == []
    (draft,) = desk.cause(NOON + 2 * HOUR_MS, cause(priority=Priority.HIGH))
    assert (draft.axis, draft.reason) == ("repeat", "more urgent")


def test_a_one_time_notice_is_told_once_even_beside_an_alarm_of_its_key():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    (past,) = desk.cause(NOON + HOUR_MS, cause(one_time=True, text="It was too hot."))
    assert (past.text, past.values["keys"], past.probe) == ("It was too hot.", ["p1/too-hot/p1-a"], "p1-a")
    assert brief(run(desk, NOON + 2 * HOUR_MS)) == [(120, "ann", "repeat")]
    assert list(desk.state.tellings) == ["p1/too-hot/p1-a"]


OFFICE = DutyWindow(days=(1, 2, 3, 4, 5), start_minute=8 * 60, end_minute=18 * 60)
EVENING = DutyWindow(start_minute=18 * 60, end_minute=8 * 60)


def test_whom_to_tell():
    contacts = {
        "ann": Contact(name="Ann", duty=(OFFICE,), **AWAKE),
        "ben": Contact(name="Ben", places=("b1",), **AWAKE),
        "cleo": Contact(name="Cleo", order=2, duty=(EVENING,), **AWAKE),
        "dan": Contact(name="Dan", order=2, duty=(OFFICE,), **AWAKE),
    }

    def told(at, place):
        return [one.after for one in desk_of(**contacts).cause(at, cause(f"{place}/x"))]

    assert told(NOON, "p1") == ["ann"]
    assert told(NOON, "b1") == ["ann", "ben"]
    assert told(NOON, "ambient") == ["ann", "ben"]
    assert told(NIGHT, "p1") == ["cleo"]
    saturday_noon = NOON + 3 * DAY_MS
    assert told(saturday_noon, "b1") == ["ben"]
    assert told(saturday_noon, "p1") == ["ann"]  # nobody is on duty: the first order gets it


def test_a_shift_that_begins_takes_over_what_nobody_answered():
    desk = desk_of(
        ann=Contact(name="Ann", duty=(OFFICE,), **AWAKE),
        ben=Contact(name="Ben", duty=(EVENING,), digest=False, **AWAKE),
    )
    start = NOON + 5 * HOUR_MS + 50 * MINUTE_MS  # 17:50
    assert [one.after for one in desk.cause(start, cause())] == ["ann"]
    pairs = run(desk, start + 5 * HOUR_MS)
    assert brief(pairs, start) == [(120, "ben", "passed on"), (240, "ben", "repeat")]
    assert pairs[0][1].reason == "taken over"


def test_what_waited_for_somebody_off_duty_by_morning_goes_to_who_is_there():
    late = DutyWindow(start_minute=18 * 60, end_minute=24 * 60)
    desk = desk_of(
        ann=Contact(name="Ann", duty=(late,), digest=False),
        ben=Contact(name="Ben", duty=(replace(late, start_minute=0, end_minute=18 * 60),), digest=False, **AWAKE),
    )
    assert desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM)) == []
    assert brief(run(desk, MORNING), MORNING) == [(0, "ben", "new")]


def test_two_who_are_only_on_duty_in_their_sleep_do_not_lose_a_notice():
    early = DutyWindow(start_minute=0, end_minute=6 * 60)
    late = DutyWindow(start_minute=6 * 60, end_minute=24 * 60)
    desk = desk_of(
        ann=Contact(name="Ann", duty=(early,), quiet_start_minute=0, quiet_end_minute=6 * 60, digest=False),
        ben=Contact(name="Ben", duty=(late,), quiet_start_minute=6 * 60, quiet_end_minute=0, digest=False),
    )
    desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM))
    assert brief(run(desk, NIGHT + 11 * HOUR_MS), NIGHT) == [(7 * 60, "ann", "new")]


def test_fire_wakes_somebody_off_duty_when_nobody_else_is_left():
    day = DutyWindow(start_minute=8 * 60, end_minute=18 * 60)
    desk = desk_of(ann=Contact(name="Ann"), ben=Contact(name="Ben", order=2, duty=(day,)))
    desk.cause(NIGHT, cause("p1/fire", Priority.HIGHEST))
    pairs = run(desk, NIGHT + 15 * MINUTE_MS)
    assert brief(pairs, NIGHT) == [(15, "ann", "repeat"), (15, "ben", "passed on")]
    assert pairs[1][1].text.startswith("p1/fire in full. (Over to you: Ann has not replied.)")
    desk = desk_of(ann=Contact(name="Ann"), ben=Contact(name="Ben", order=2, duty=(day,)))
    desk.cause(NIGHT, cause("p1/too-hot", Priority.HIGH))
    assert ("ben", "passed on") not in {(who, axis) for _, who, axis in brief(run(desk, NIGHT + 8 * HOUR_MS))}
    assert ("ben", "passed on") in {(who, axis) for _, who, axis in brief(run(desk, NIGHT + 10 * HOUR_MS))}


def test_a_contact_who_is_gone_from_the_settings_leaves_nothing_hanging():
    desk = desk_of(ann=Contact(name="Ann"))
    desk.begin(NIGHT)
    desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM))
    desk.cause(NIGHT + 1, cause("p1/too-hot", Priority.HIGH))
    after = NoticeDesk(desk.state, yard(contacts={"ben": Contact(name="Ben", **AWAKE)}))
    after.begin(NIGHT + 2)
    pairs = run(after, MORNING)
    assert {draft.after for _, draft in pairs} == {"ben"}
    told = {key for _, draft in pairs for key in draft.values["keys"]}
    assert told == {"p1/hot", "p1/too-hot"}


def test_overdue_deadlines_are_served_once():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.begin(NOON)
    desk.cause(NOON, cause())
    back = NOON + 3 * DAY_MS
    drafts = desk.serve(back)
    assert [(str(one.axis), one.values["keys"]) for one in drafts] == [("digest", ["p1/too-hot/p1-a"])]
    assert desk.due() == back + 4 * HOUR_MS


def test_a_test_message_waits_for_nothing():
    draft = desk_of(ann=Contact(name="Ann", channels=("mail",))).test(NIGHT, "ann")
    assert draft.text.startswith("Test from Tern Hollow allotments to Ann: notices reach you here.")
    assert draft.values["channels"] == ["mail"]
    with pytest.raises(KeyError):
        desk_of(ann=Contact(name="Ann")).test(NOON, "ben")


def test_what_becomes_urgent_while_it_is_held_goes_once():
    desk = desk_of(ann=Contact(name="Ann", digest=False))
    assert desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM)) == []
    (draft,) = desk.cause(NIGHT + HOUR_MS, cause("p1/hot", Priority.HIGHEST))
    assert draft.axis == "new"
    desk.answered(NIGHT + 2 * HOUR_MS, "p1/hot", Answer.SEEN)
    assert run(desk, MORNING + DAY_MS) == []


def test_what_is_over_is_not_passed_on_while_somebody_still_waits_for_it():
    desk = desk_of(
        NoticePolicy(pass_on_medium_ms=HOUR_MS),
        ann=Contact(name="Ann", **AWAKE),
        ben=Contact(name="Ben", digest=False),
        cleo=Contact(name="Cleo", order=2, **AWAKE),
    )
    assert [one.after for one in desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM))] == ["ann"]
    desk.over(NIGHT + MINUTE_MS, "p1/hot")
    assert brief(run(desk, MORNING), MORNING) == [(0, "ben", "new")]
    assert desk.state.tellings == {}


def test_one_of_an_order_who_hears_late_does_not_delay_passing_on():
    desk = desk_of(
        ann=Contact(name="Ann", **AWAKE),
        ben=Contact(name="Ben", digest=False),
        cleo=Contact(name="Cleo", order=2, **AWAKE),
    )
    desk.cause(NIGHT, cause("p1/hot", Priority.MEDIUM))
    pairs = run(desk, NIGHT + 12 * HOUR_MS)
    assert brief(pairs, NIGHT) == [(480, "ben", "new"), (720, "ann", "repeat"), (720, "cleo", "passed on")]


def test_put_off_and_told_again_has_all_its_repeats_again():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause())
    assert len(run(desk, NOON + 6 * HOUR_MS)) == 2
    until = NOON + 8 * HOUR_MS
    desk.answered(NOON + 6 * HOUR_MS, "p1/too-hot/p1-a", Answer.PUT_OFF, until=until)
    desk.cause(until, cause())
    assert len(run(desk, until + 5 * DAY_MS)) == NoticePolicy().repeats


def test_a_seen_that_was_taken_back_is_repeated_and_passed_on_again():
    ann, ben = Contact(name="Ann", **AWAKE), Contact(name="Ben", order=2, **AWAKE)
    desk = desk_of(ann=ann, ben=ben)
    desk.cause(NOON, cause())
    desk.answered(NOON + MINUTE_MS, "p1/too-hot/p1-a", Answer.SEEN, by="Ann")
    assert run(desk, NOON + HOUR_MS) == []
    assert desk.answered(NOON + HOUR_MS, "p1/too-hot/p1-a", Answer.NOT_ME, by="Ann") == []
    told = [draft.after for _, draft in run(desk, NOON + 6 * HOUR_MS)]
    assert set(told) == {"ann", "ben"}
    assert desk.state.tellings["p1/too-hot/p1-a"].answered_by == ""


def minutes(pairs, who, start=NOON):
    return [(at - start) // MINUTE_MS for at, one in pairs if one.after == who]


def test_each_repeat_waits_twice_as_long_as_the_one_before():
    desk = desk_of(ann=Contact(name="Ann", digest=False, **AWAKE))
    desk.cause(NOON, cause("p1/turning-due", Priority.MEDIUM))
    first = NoticePolicy().repeat_medium_ms // MINUTE_MS
    pairs = run(desk, NOON + 60 * DAY_MS)
    assert minutes(pairs, "ann") == [first, 3 * first, 7 * first, 15 * first, 31 * first]


def test_a_danger_is_repeated_after_15_30_and_60_minutes_and_then_hourly_until_it_is_over():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("b1/worms-in-danger", Priority.HIGHEST))
    pairs = run(desk, NOON + 2 * DAY_MS)
    assert minutes(pairs, "ann")[:5] == [15, 45, 105, 165, 225]
    assert len(pairs) == 2 + (2 * DAY_MS - 45 * MINUTE_MS) // HOUR_MS
    desk.answered(NOON + 2 * DAY_MS, "b1/worms-in-danger", Answer.SEEN, by="Ann")
    assert run(desk, NOON + 9 * DAY_MS) == []


def test_where_the_yard_wants_no_repeats_a_danger_has_none_either():
    desk = desk_of(NoticePolicy(repeats=0), ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("b1/worms-in-danger", Priority.HIGHEST))
    assert run(desk, NOON + 2 * DAY_MS) == []


@pytest.mark.parametrize(("digest", "repeats"), [(True, 0), (False, 5)])
def test_what_is_low_is_repeated_only_to_who_gets_no_digest(digest, repeats):
    desk = desk_of(ann=Contact(name="Ann", digest=digest, **AWAKE))
    desk.cause(NOON, cause("b1/too-wet", Priority.LOW))
    assert len(run(desk, NOON + 60 * DAY_MS)) == repeats


@pytest.mark.parametrize("alarm", ["silent", "broken"])
def test_a_silent_or_broken_probe_is_told_twice_at_most(alarm):
    desk = desk_of(ann=Contact(name="Ann", digest=False, **AWAKE))
    desk.cause(NOON, cause(f"b1/{alarm}/b1-a", Priority.MEDIUM))
    assert len(run(desk, NOON + 60 * DAY_MS)) == 1


def test_not_me_after_all_begins_the_repeats_anew_and_none_where_there_were_none():
    desk = desk_of(ann=Contact(name="Ann", **AWAKE))
    desk.cause(NOON, cause("b1/too-wet", Priority.LOW))
    desk.cause(NOON, cause("p1/hot", Priority.MEDIUM))
    run(desk, NOON + MINUTE_MS)
    for key in ("b1/too-wet", "p1/hot"):
        desk.answered(NOON + 2 * MINUTE_MS, key, Answer.SEEN, by="Ann")
        desk.answered(NOON + HOUR_MS, key, Answer.NOT_ME)
    pairs = run(desk, NOON + HOUR_MS + DAY_MS)
    assert [(at - NOON, one.values["keys"]) for at, one in pairs if one.axis == "repeat"] == [
        (13 * HOUR_MS, ["p1/hot"])
    ]


DUSK = MORNING - 11 * HOUR_MS


def clock(at):
    """Return the time of an instant in New York."""
    return local(at, ZoneInfo("America/New_York")).strftime("%H:%M")


QUIET = {"quiet_start_minute": 20 * 60, "quiet_end_minute": 7 * 60}


def waiting_desk(quiet_end=7 * 60, **more):
    """Return a desk with a notice, a one-time notice and an end that wait for Ann's quiet hours to end."""
    desk = desk_of(ann=Contact(name="Ann", quiet_start_minute=20 * 60, quiet_end_minute=quiet_end, **more))
    desk.begin(DUSK)
    desk.cause(DUSK + 3 * HOUR_MS, cause("p1/turning-due", Priority.MEDIUM))
    desk.cause(DUSK + 4 * HOUR_MS, cause("p2/rule-met", Priority.MEDIUM, one_time=True))
    return desk


def test_what_waited_through_quiet_hours_and_the_digest_are_one_message():
    desk = waiting_desk()
    pairs = run(desk, MORNING + 2 * HOUR_MS)
    assert [(str(one.axis), one.values["keys"]) for _, one in pairs] == [("digest", ["p1/turning-due", "p2/rule-met"])]
    ((at, draft),) = pairs
    assert clock(at) == "07:00"
    assert draft.values["priority"] == "medium"
    assert draft.text.startswith("p1/turning-due short, open. Digest of ")
    assert "p1/turning-due short; nobody on it yet. Do it." in draft.text
    assert "p2/rule-met short. Do it." in draft.text, "a one-time notice says what to do: it stands nowhere else"


def test_what_is_told_first_in_a_digest_stands_there_in_full_and_what_was_told_before_does_not():
    desk = waiting_desk()
    desk.cause(DUSK - 4 * HOUR_MS, cause("b1/overheating", Priority.HIGH))
    pairs = run(desk, MORNING)
    (digest,) = [one for _, one in pairs if one.axis == "digest"]
    assert "b1/overheating" in digest.values["keys"]
    whole = digest.text.split("\nNew, in full:\n")[1].splitlines()
    assert whole == ["- p1/turning-due in full.", "- p2/rule-met in full."]


def test_the_next_digest_goes_on_where_the_early_one_ended():
    desk = waiting_desk()
    run(desk, MORNING + 2 * HOUR_MS)
    early = MORNING + 10 * MINUTE_MS  # after the digest that went at 07:00, before the time of the digest
    assert early < MORNING + 30 * MINUTE_MS
    desk.line(early, "p1", "between the two")
    pairs = run(desk, MORNING + DAY_MS + 2 * HOUR_MS)
    digests = [(at, one) for at, one in pairs if one.axis == "digest"]
    assert len(digests) == 1
    assert "between the two" in digests[0][1].text
    assert digests[0][1].since == MORNING


def test_with_nothing_that_waited_the_digest_goes_at_its_own_time():
    desk = desk_of(ann=Contact(name="Ann", **QUIET))
    desk.begin(DUSK)
    ((at, draft),) = run(desk, MORNING + 2 * HOUR_MS)
    assert (clock(at), draft.values["keys"]) == ("07:30", [])


def test_quiet_hours_that_end_long_before_the_digest_hold_their_notices_no_longer():
    desk = waiting_desk(quiet_end=5 * 60)
    pairs = run(desk, MORNING + 2 * HOUR_MS)
    assert [(clock(at), str(one.axis)) for at, one in pairs] == [
        ("05:00", "group"),
        ("07:30", "digest"),
    ]


def test_a_digest_that_waits_for_quiet_hours_takes_along_what_waits_too():
    desk = waiting_desk(quiet_end=9 * 60)
    pairs = run(desk, MORNING + 3 * HOUR_MS)
    assert [(clock(at), str(one.axis)) for at, one in pairs] == [("09:00", "digest")]
    assert pairs[0][1].values["keys"] == ["p1/turning-due", "p2/rule-met"]


def test_a_danger_of_the_same_instant_stays_a_message_of_its_own():
    desk = waiting_desk()
    desk.cause(MORNING - 15 * MINUTE_MS, cause("b1/worms-in-danger", Priority.HIGHEST))
    pairs = [one for at, one in run(desk, MORNING) if at == MORNING]
    assert [str(one.axis) for one in pairs] == ["repeat", "digest"]
    assert pairs[0].values["keys"] == ["b1/worms-in-danger"]


@pytest.mark.parametrize(("digest", "told"), [(True, set()), (False, {"ben"})])
def test_a_silent_probe_is_passed_on_only_where_nobody_who_was_told_gets_the_digest(digest, told):
    desk = desk_of(ann=Contact(name="Ann", digest=digest, **AWAKE), ben=Contact(name="Ben", order=2, **AWAKE))
    desk.cause(NOON, cause("b1/silent/b1-a", Priority.MEDIUM))
    assert {one.after for _, one in run(desk, NOON + 60 * DAY_MS) if one.axis == "passed on"} == told
