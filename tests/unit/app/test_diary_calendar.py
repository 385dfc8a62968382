"""The diary as a calendar, read back by the library's own parser: UIDs that last, times in UTC, lines that fold."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from typed_command import ENTRIES, call, yard_of

from monitor.app.diary.diary_calendar import calendar_bytes, uid
from monitor.diary import Due
from monitor.diary.due import What
from monitor.model.settings import Pile, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, parse_time

T = parse_time("2026-11-30T19:00:30Z")
YARD = Settings(site=Site(name="Tern Hollow", time_zone="America/New_York"), piles={"p1": Pile(name="Bay 1")})
yard = yard_of(ENTRIES)


def due(after=0, what=What.TURN, why="its rule wants more: 2 turnings are left", of="b/1", latest=None):
    return Due(due_ms=T + after, place="p1", what=what, why=why, of=of, latest_ms=latest)


def events(found, now=T, settings=YARD):
    return list(Calendar.from_ical(calendar_bytes(found, settings, now)).walk("VEVENT"))


def test_an_entry_says_what_where_and_why_in_utc():
    (one,) = events([due(HOUR_MS, latest=T + DAY_MS)])
    assert one["summary"] == "Bay 1: turn it"
    assert one["description"] == ("Its rule wants more: 2 turnings are left. It can wait until Tue 1 Dec 14:00.")
    assert one.decoded("dtstart") == datetime(2026, 11, 30, 20, 0, tzinfo=UTC)
    assert one.decoded("dtstamp") == datetime(2026, 11, 30, 19, 0, tzinfo=UTC)
    assert one["sequence"] == 0
    assert b"DTSTART:20261130T200000Z\r\n" in calendar_bytes([due(HOUR_MS)], YARD, T)


def test_the_calendar_names_the_yard_and_its_maker():
    calendar = Calendar.from_ical(calendar_bytes([], YARD, T))
    assert (calendar["version"], calendar["method"], calendar["name"]) == ("2.0", "PUBLISH", "Tern Hollow: diary")
    assert calendar["prodid"] == "-//Heaptender//diary//EN"


def test_a_thing_keeps_its_uid_and_another_has_another():
    (before,), (after,) = events([due(HOUR_MS)]), events([due(5 * HOUR_MS)], T + HOUR_MS)
    assert before["uid"] == after["uid"] == uid(due(), "Tern Hollow")
    others = {uid(due(of="b/2"), "Tern Hollow"), uid(due(what=What.READ), "Tern Hollow"), uid(due(), "Other yard")}
    assert len(others | {before["uid"]}) == 4
    assert uid(due(), "Tern Hollow") == "66b6a82a-5ed5-5fa6-b9f4-8d2b3df8f181", "phones would get all entries anew"


def test_what_is_overdue_moves_on_to_today_and_is_counted():
    (one,) = events([due(-50 * HOUR_MS)])
    assert one.decoded("dtstart") == datetime(2026, 11, 30, 17, 0, tzinfo=UTC)
    assert one["sequence"] == 2
    assert one["description"].endswith("Due since Sat 28 Nov.")


def test_what_is_only_expected_stays_where_it_was_and_is_tentative():
    (one,) = events([due(-50 * HOUR_MS, What.EXPECT, "its rule is met then if all goes well (3 of 5 days done)")])
    assert one["summary"] == "Bay 1: its rule is met then if all goes well"
    assert (one["sequence"], one["status"]) == (0, "TENTATIVE")
    assert one.decoded("dtstart") == datetime(2026, 11, 28, 17, 0, tzinfo=UTC)


@given(st.text(max_size=120), st.text(max_size=60), st.integers(-400 * DAY_MS, 400 * DAY_MS))
def test_whatever_people_call_things_lines_fold_and_the_file_reads_back(why, name, after):
    settings = Settings(site=Site(name=name, time_zone="Asia/Kolkata"), piles={"p1": Pile(name=name)})
    raw = calendar_bytes([due(after, why=f"so {why}")], settings, T)
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert raw.count(b"BEGIN:VEVENT") == 1
    (one,) = Calendar.from_ical(raw).walk("VEVENT")
    assert abs(one.decoded("dtstart") - datetime(2026, 11, 30, 19, tzinfo=UTC)) <= timedelta(days=401)


def test_the_command_writes_the_file(yard):
    call(yard, "log", "built", "p2", "--at", "2 days ago")
    told = call(yard, "diary", "--ics", yard / "yard.ics")
    assert f"{yard / 'yard.ics'} has the diary as a calendar of 1 entry." in told
    first = (yard / "yard.ics").read_bytes()
    assert b"SUMMARY:Bay 2: read it by hand\r\n" in first
    call(yard, "diary", "--ics", yard / "yard.ics")
    second = (yard / "yard.ics").read_bytes()
    kept = [{str(one["uid"]) for one in Calendar.from_ical(raw).walk("VEVENT")} for raw in (first, second)]
    assert kept[0] == kept[1]


@pytest.mark.parametrize(
    ("where", "code", "said"), [(".", 2, "is no ordinary file"), ("no/such/yard.ics", 3, "cannot be written")]
)
def test_a_file_that_cannot_be_written_is_named(yard, where, code, said):
    call(yard, "log", "note", "p1", "--note", "swept")
    assert said in call(yard, "diary", "--ics", yard / where, code=code)
