"""The digest, *while you were away* and *before you go*."""

import pytest

from monitor.model.events import Answer
from monitor.model.settings import Contact, DutyWindow
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import (
    By,
    Cause,
    DeskState,
    Facts,
    LeavingFacts,
    LineKind,
    NoticeDesk,
    PlaceWatch,
    ProbeAge,
    compose_kept,
)
from monitor.notices.instants import mark
from tests.worlds.notice_cases import yard

MORNING = parse_time("2026-03-04T12:30:00Z")  # 07:30 in New York
DAY = DutyWindow(start_minute=8 * 60, end_minute=18 * 60)


WELL = (
    PlaceWatch(place="p1", by=By.PROBES, known=True, last=MORNING),
    PlaceWatch(place="p2", by=By.PROBES, known=True, last=MORNING),
    PlaceWatch(place="p3", by=By.EMPTY, known=True),
    PlaceWatch(place="p4", by=By.HAND, known=True, last=MORNING - DAY_MS, who="Ann"),
    PlaceWatch(place="b1", by=By.PROBES, known=True, last=MORNING),
)


def desk_of(watches=WELL, **contacts):
    desk = NoticeDesk(DeskState(), yard(contacts=contacts), watched=lambda: watches)
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
        "Digest of Tern Hollow allotments: no alarm is open; nothing to tell since yesterday 07:30; "
        "3 places watched by probes, 1 read by hand (Leaf cage: Ann, yesterday 07:30), 1 empty."
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
        "Sunny wall bin: too wet, 87 %, and 1 more open. Digest of Tern Hollow allotments, Wed 4 Mar, since yesterday 07:30.",
        "Open now:",
        "- Sunny wall bin: too wet, 87 %; Ben is on it",
        "- Bay 2: hot, 161 °F; put off until 10:30 by Ann",
        "- out of service by Ann since yesterday 13:30: p2/silent/x",
        "Bay 1:",
        "- yesterday 08:30 too hot, 172 °F",
        "- over since yesterday 09:30: too hot, 172 °F",
        "Sunny wall bin:",
        "- yesterday 10:30 cool, 57 °F (comfort from 60 °F)",
        "3 places watched by probes, 1 read by hand (Leaf cage: Ann, yesterday 07:30), 1 empty.",
    ]


UNWELL = (
    PlaceWatch(place="p1", by=By.PROBES, known=False, last=MORNING - 5 * HOUR_MS, why="silent"),
    PlaceWatch(place="p2", by=By.HAND, known=False, last=MORNING - 4 * DAY_MS, who="Ann", why="unread"),
    PlaceWatch(place="p3", by=By.NOBODY, known=False),
    PlaceWatch(place="p4", by=By.PROBES, known=False, last=MORNING - HOUR_MS, why="outside"),
    PlaceWatch(place="b1", by=By.PROBES, known=False, why="never heard"),
)


def test_no_summary_comforts_while_it_is_not_known_how_a_place_is():
    desk = desk_of(UNWELL, ann=Contact(name="Ann", channels=("wire",)))
    (draft,) = served(desk, MORNING)
    assert draft.text == (
        "Digest of Tern Hollow allotments: no alarm is open, but not everything is known; nothing to tell since "
        "yesterday 07:30; 3 places watched by probes, 1 read by hand (Bay 2: Ann, Sat 07:30), 1 watched by nobody (Drum); "
        "not known now "
        "(Bay 1: its probes have been silent since 02:30; Bay 2: not read since Sat 07:30; Leaf cage: its probes have been "
        "outside since 06:30; Sunny wall bin: its probes were never heard)."
    )
    text = desk.leaving(MORNING, LeavingFacts())
    assert "No alarm is open or put off, but not everything is known." in text
    assert "no alarm is open, but not everything is known; nothing to tell since 04:30" in desk.away(
        MORNING, MORNING - 3 * HOUR_MS
    )


def test_news_are_no_comfort_either_while_it_is_not_known_how_a_place_is():
    def with_news(watches):
        desk = desk_of(watches, ann=Contact(name="Ann"))
        desk.line(MORNING - HOUR_MS, "b1", "Sunny wall bin: cool, 57 °F (comfort from 60 °F)", LineKind.NOTED)
        (draft,) = served(desk, MORNING)
        return draft.text.splitlines()[0], desk.away(MORNING, MORNING - 3 * HOUR_MS).splitlines()[1]

    sure, unsure = with_news(WELL), with_news(UNWELL)
    assert sure[0] == "Digest of Tern Hollow allotments: no alarm is open; Wed 4 Mar, since yesterday 07:30."
    assert sure[1] == "No alarm is open."
    assert unsure[0] == (
        "Digest of Tern Hollow allotments: no alarm is open, but not everything is known; Wed 4 Mar, since yesterday 07:30."
    )
    assert unsure[1] == "No alarm is open, but not everything is known."


@pytest.mark.parametrize("one", UNWELL)
def test_one_place_that_is_not_known_is_enough(one):
    watches = tuple(one if well.place == one.place else well for well in WELL)
    desk = desk_of(watches, ann=Contact(name="Ann", channels=("wire",)))
    assert "not everything is known" in served(desk, MORNING)[0].text
    assert "not everything is known" in desk.leaving(MORNING, LeavingFacts())
    assert "not everything is known" in desk.away(MORNING, MORNING - HOUR_MS)


def test_a_yard_without_any_place_is_not_called_watched():
    desk = desk_of((), ann=Contact(name="Ann", channels=("wire",)))
    assert "No place is watched" in desk.leaving(MORNING, LeavingFacts())


def test_where_nobody_gets_messages_that_is_said():
    assert "Nobody gets messages: no contact is set up." in desk_of().leaving(MORNING, LeavingFacts())
    silent = desk_of(ann=Contact(name="Ann"))
    assert "Nobody gets messages: no contact has a channel." in silent.leaving(MORNING, LeavingFacts())
    assert "page" not in desk_of().leaving(MORNING, LeavingFacts())


def test_what_is_kept_says_its_days_as_of_when_it_is_read():
    desk = desk_of(ann=Contact(name="Ann", channels=("wire",), quiet_end_minute=9 * 60))
    evening = MORNING - 10 * HOUR_MS  # Tue 3 Mar 21:30
    kept = compose_kept("holding", Facts(place="p1", since=evening - HOUR_MS, now=evening), yard())
    cause = Cause(
        key="p1/holding", place="p1", alarm="holding", priority=Priority.LOW, since=evening, text=kept.text, short=kept.short,
        one_time=True,
    )  # fmt: skip
    assert desk.cause(evening + HOUR_MS, cause) == []
    (told,) = desk.serve(MORNING + 2 * HOUR_MS)
    assert "throughout, since yesterday 20:30" in told.text
    assert "throughout, since Tue 20:30" in desk.away(MORNING + 3 * DAY_MS, MORNING - 2 * DAY_MS)
    assert "throughout, since 3 Mar 20:30" in desk.away(MORNING + 9 * DAY_MS, MORNING - 2 * DAY_MS)


def test_a_digest_that_waits_through_the_night_is_written_when_it_goes():
    desk = desk_of(ann=Contact(name="Ann", channels=("wire",), quiet_start_minute=0, quiet_end_minute=24 * 60 - 1))
    desk.line(MORNING - HOUR_MS, "p1", f"Bay 1: seen {mark(MORNING - HOUR_MS)}")
    assert served(desk, MORNING) == []
    desk.line(MORNING + HOUR_MS, "p1", "Bay 1: of the next digest")
    (late,) = served(desk, desk.due())
    assert "- 06:30 seen 06:30" in late.text
    assert "of the next digest" not in late.text


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
    assert "- 388 earlier lines are left out" in draft.text
    assert len(desk.state.lines) == 400


def test_a_row_of_silent_probes_does_not_push_out_other_news():
    desk = desk_of(ann=Contact(name="Ann"))
    desk.line(MORNING - DAY_MS, "p1", "Bay 1: at temperature throughout")
    for number in range(1, 11):
        desk.line(MORNING - DAY_MS + number, "p1", f"Bay 1: no word from probe {number}", LineKind.CAME_ON)
        desk.line(MORNING - DAY_MS + number, "p1", f"Bay 1: probe {number} is back", LineKind.OVER)
    (draft,) = served(desk, MORNING)
    told = draft.text.splitlines()
    (left_out,) = (i for i, line in enumerate(told) if "left out" in line)
    assert told[left_out] == "- 9 earlier lines are left out"
    assert "at temperature throughout" in told[left_out + 1]
    assert "probe 5 is back" in told[left_out + 2], "of the alarms, the newest"
    assert "probe 10 is back" in told[left_out + 12]


def test_while_you_were_away_covers_any_span():
    desk = busy_desk(ann=Contact(name="Ann"))
    now = MORNING - DAY_MS + 7 * HOUR_MS
    text = desk.away(now, now - 4 * HOUR_MS)
    assert text.startswith("While you were away: Tern Hollow allotments, Tue 3 Mar, since 10:30:")
    assert "too hot" not in text
    assert "cool, 57 °F" in text
    assert "nothing to tell" in desk.away(now, now - HOUR_MS // 2, places=("p1",))
    old = [*desk.state.lines][:1]
    assert "too hot" in desk.away(now, now - 30 * DAY_MS, lines=old)


def test_before_you_go_goes_through_places_as_people_count():
    now = MORNING + 2 * HOUR_MS
    ages = [ProbeAge(probe=f"q{number}-a", place=f"q{number}", last=now - 60_000) for number in (10, 2, 1)]
    told = busy_desk(ann=Contact(name="Ann")).leaving(now, LeavingFacts(probes=tuple(ages))).splitlines()
    assert [line for line in told if line.startswith("- q")] == [
        f"- q{number}: q{number}-a 1 min ago" for number in (1, 2, 10)
    ]


def test_before_you_go():
    desk = busy_desk(
        ann=Contact(name="Ann", channels=("wire",), duty=(DAY,)), ben=Contact(name="Ben\n", order=2, duty=(DAY,))
    )
    now = MORNING + 2 * HOUR_MS
    facts = LeavingFacts(
        probes=(
            ProbeAge(probe="p1-b", place="p1", last=None),
            ProbeAge(probe="p1-a", place="p1", last=now - 3 * MINUTE_MS),
            ProbeAge(probe="air", place="ambient", last=now - 5 * HOUR_MS),
            ProbeAge(probe="p2-a", place="p2", last=now - 60_000),
            ProbeAge(probe="b1-a", place="b1", last=now - 20_000),
        )
    )
    assert desk.leaving(now, facts).splitlines() == [
        "Before you go, Tern Hollow allotments, Wed 4 Mar 09:30.",
        "3 places watched by probes, 1 read by hand (Leaf cage: Ann, yesterday 07:30), 1 empty; last readings:",
        "- Bay 1: p1-a 3 min ago, north corner never heard",
        "- Bay 2: p2-a 1 min ago",
        "- Drum: empty",
        "- Leaf cage: read by hand, Ann, yesterday 07:30",
        "- Sunny wall bin: b1-a 20 s ago",
        "- The air of the yard: air 5 h ago",
        "On duty now: Ann and Ben.",
        "From about 18:00 nobody is on duty for a while; Ann would be told.",
        "Open now:",
        "- Sunny wall bin: too wet, 87 %; Ben is on it",
        "- Bay 2: hot, 161 °F; put off until 10:30 by Ann",
        "- out of service by Ann since yesterday 13:30: p2/silent/x",
    ]
    text = desk_of(ann=Contact(name="Ann", channels=("wire",), duty=(DAY,))).leaving(MORNING, LeavingFacts())
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
