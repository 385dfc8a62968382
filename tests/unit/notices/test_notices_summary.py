"""The digest, *while you were away* and *before you go*."""

from notice_cases import yard

from monitor.model.events import Answer
from monitor.model.settings import Contact, DutyWindow
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import Cause, DeskState, LeavingFacts, LineKind, NoticeDesk, ProbeAge

MORNING = parse_time("2026-03-04T12:30:00Z")  # 07:30 in New York
DAY = DutyWindow(start_minute=8 * 60, end_minute=18 * 60)


def desk_of(**contacts):
    desk = NoticeDesk(DeskState(), yard(contacts=contacts))
    desk.begin(MORNING - DAY_MS)
    return desk


def alarm(key, short, priority, since):
    return Cause(
        key=key,
        place=key.split("/")[0],
        alarm=key.split("/")[1],
        priority=priority,
        since=since,
        text=short,
        short=short,
    )


def served(desk, at):
    out = []
    while desk.due() is not None and desk.due() <= at:
        out += [one for one in desk.serve(desk.due()) if one.axis == "digest"]
    return out


def test_a_day_without_events_is_one_sentence():
    (draft,) = served(desk_of(ann=Contact(name="Ann")), MORNING)
    assert draft.text == (
        "Digest of Tern Hollow allotments: nothing happened since yesterday 07:30 and no alarm is open; "
        "4 piles and 1 bin watched."
    )
    assert (draft.after, draft.reason, draft.values["keys"]) == ("ann", "daily", [])


def busy_desk(**contacts):
    desk = desk_of(**contacts)
    start = MORNING - DAY_MS
    desk.cause(start + HOUR_MS, alarm("p1/too-hot", "Bay 1: too hot, 172 °F", Priority.HIGH, start))
    desk.over(start + 2 * HOUR_MS, "p1/too-hot")
    desk.line(start + 3 * HOUR_MS, "b1", "Sunny wall bin: cool, 57 °F (comfort from 60 °F)", LineKind.NOTED)
    desk.cause(start + 4 * HOUR_MS, alarm("b1/too-wet", "Sunny wall bin: too wet, 87 %", Priority.MEDIUM, start))
    desk.answered(start + 5 * HOUR_MS, "b1/too-wet", Answer.SEEN, by="Ben")
    desk.cause(start + 6 * HOUR_MS, alarm("p2/hot", "Bay 2: hot, 161 °F", Priority.MEDIUM, start))
    desk.answered(start + 6 * HOUR_MS, "p2/hot", Answer.PUT_OFF, until=MORNING + 3 * HOUR_MS, by="Ann")
    desk.answered(start + 6 * HOUR_MS, "p2/silent/x", Answer.OUT_OF_SERVICE, by="Ann")
    return desk


def test_the_digest_says_what_is_open_then_what_happened_place_by_place():
    (draft,) = served(busy_desk(ann=Contact(name="Ann")), MORNING)
    assert draft.text.splitlines() == [
        "Digest of Tern Hollow allotments, Wed 4 Mar, since yesterday 07:30:",
        "Open now:",
        "- Sunny wall bin: too wet, 87 %; seen by Ben",
        "- Bay 2: hot, 161 °F; put off until 10:30 by Ann",
        "- out of service by Ann since yesterday 13:30: p2/silent/x",
        "Bay 1:",
        "- yesterday 08:30 too hot, 172 °F",
        "- yesterday 09:30 over at 09:30: too hot, 172 °F",
        "Bay 2:",
        "- yesterday 13:30 hot, 161 °F",
        "Sunny wall bin:",
        "- yesterday 10:30 cool, 57 °F (comfort from 60 °F)",
        "- yesterday 11:30 too wet, 87 %",
    ]


def test_a_digest_holds_only_the_places_one_looks_after():
    desk = busy_desk(ann=Contact(name="Ann", places=("b1",)), ben=Contact(name="Ben", digest=False))
    (draft,) = served(desk, MORNING)
    assert draft.after == "ann"
    assert "Bay" not in draft.text


def test_a_line_noted_at_the_instant_of_a_digest_is_in_the_next():
    desk = desk_of(ann=Contact(name="Ann"))
    (first,) = served(desk, MORNING)
    desk.line(MORNING, "p1", "Bay 1: late line")
    (second,) = served(desk, MORNING + DAY_MS)
    assert "late line" not in first.text
    assert "late line" in second.text
    assert "late line" not in served(desk, MORNING + 2 * DAY_MS)[0].text


def test_a_digest_waits_for_the_end_of_quiet_hours_and_is_for_people_off_duty_too():
    desk = desk_of(ann=Contact(name="Ann", quiet_end_minute=9 * 60, duty=(DAY,)))
    assert served(desk, MORNING) == []
    assert desk.due() == MORNING + 90 * MINUTE_MS
    assert len(served(desk, desk.due())) == 1


def test_a_busy_place_shows_its_newest_lines():
    desk = desk_of(ann=Contact(name="Ann"))
    for number in range(1000):
        desk.line(MORNING - DAY_MS + number, "p1", f"line {number}.")
    (draft,) = served(desk, MORNING)
    assert "line 999." in draft.text
    assert "- 388 earlier lines, see the page" in draft.text
    assert len(desk.state.lines) == 400


def test_while_you_were_away_covers_any_span():
    desk = busy_desk(ann=Contact(name="Ann"))
    now = MORNING - DAY_MS + 7 * HOUR_MS
    text = desk.away(now, now - 4 * HOUR_MS)
    assert text.startswith("While you were away: Tern Hollow allotments, Tue 3 Mar, since 10:30:")
    assert "too hot" not in text
    assert "cool, 57 °F" in text
    assert "nothing happened" in desk.away(now, now - HOUR_MS // 2, places=("p1",))
    old = [*desk.state.lines][:1]
    assert "too hot" in desk.away(now, now - 30 * DAY_MS, lines=old)


def test_before_you_go():
    desk = busy_desk(ann=Contact(name="Ann", duty=(DAY,)), ben=Contact(name="Ben\n", order=2, duty=(DAY,)))
    now = MORNING + 2 * HOUR_MS
    facts = LeavingFacts(
        probes=(
            ProbeAge(probe="p1-b", place="p1", last=None),
            ProbeAge(probe="p1-a", place="p1", last=now - 3 * MINUTE_MS),
            ProbeAge(probe="air", place="ambient", last=now - 5 * HOUR_MS),
            ProbeAge(probe="b1-a", place="b1", last=now - 20_000),
        )
    )
    assert desk.leaving(now, facts).splitlines() == [
        "Before you go, Tern Hollow allotments, Wed 4 Mar 09:30.",
        "Watched: 4 piles and 1 bin, 4 probes; last readings:",
        "- Bay 1: p1-a 3 min ago, north corner never heard",
        "- Sunny wall bin: b1-a 20 s ago",
        "- The air of the yard: air 5 h ago",
        "- Bay 2: no probe, nobody watches it but you",
        "- Drum: no probe, nobody watches it but you",
        "- Leaf cage: no probe, nobody watches it but you",
        "On duty now: Ann and Ben.",
        "From about 18:00 nobody is on duty for a while; Ann would be told.",
        "Open now:",
        "- Sunny wall bin: too wet, 87 %; seen by Ben",
        "- Bay 2: hot, 161 °F; put off until 10:30 by Ann",
        "- out of service by Ann since yesterday 13:30: p2/silent/x",
    ]
    text = desk_of(ann=Contact(name="Ann", duty=(DAY,))).leaving(MORNING, LeavingFacts())
    assert "Nobody is on duty now; Ann would be told." in text
    assert "No alarm is open or put off." in text


def test_after_a_long_stop_there_is_one_digest_over_the_whole_span():
    desk = desk_of(ann=Contact(name="Ann", quiet_end_minute=9 * 60))
    desk.line(MORNING - HOUR_MS, "p1", "Bay 1: first line")
    assert served(desk, MORNING) == []
    desk.line(MORNING + HOUR_MS, "p1", "Bay 1: second line")
    back = MORNING + 2 * DAY_MS + 3 * HOUR_MS
    desk.begin(back)
    (draft,) = desk.serve(back)
    assert "first line" in draft.text
    assert "second line" in draft.text
    assert draft.since == MORNING - DAY_MS


def test_new_settings_do_not_swallow_a_digest_that_is_overdue():
    desk = desk_of(ann=Contact(name="Ann"))
    desk.begin(MORNING + HOUR_MS)
    assert desk.due() == MORNING
    assert len(desk.serve(MORNING + HOUR_MS)) == 1
