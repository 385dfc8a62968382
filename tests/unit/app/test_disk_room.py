"""The disk that will be full: foreseen from the room of the last days."""

import json
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.app.upkeep import disk_room
from monitor.app.upkeep.disk_room import FILE, KEPT_DAYS, LEAST_DAYS, DiskRoom, days_left, fills_up
from monitor.model.times import DAY_MS

GB = 10**9


def shrinking(days, first, pace):
    return {day: round(first - pace * day) for day in range(days)}


def test_a_steady_pace_is_carried_on():
    # 20 GB on the first day, 1 GB a day less: on the eleventh, 10 GB are left, so 10 days.
    assert days_left(shrinking(11, 20 * GB, GB)) == pytest.approx(10)
    assert fills_up(shrinking(11, 20 * GB, GB), told=False) == (
        "10.0 GB are left, full in about 10 days at the pace of the last 10 days"
    )


def test_nothing_is_said_before_a_week_of_notes():
    assert days_left({}) is None
    assert days_left({3: GB}) is None
    assert days_left(shrinking(LEAST_DAYS, 20 * GB, 3 * GB)) is None
    assert days_left(shrinking(LEAST_DAYS + 1, 30 * GB, 3 * GB)) is not None


def test_room_that_stays_or_grows_is_no_matter():
    assert days_left(shrinking(20, 20 * GB, 0)) is None
    assert days_left(shrinking(20, 20 * GB, -GB)) is None


def test_one_large_file_that_came_or_went_changes_little():
    noted = shrinking(21, 40 * GB, GB / 10)
    for day in range(10, 21):
        noted[day] -= 20 * GB
    assert days_left(noted) > 60, "it came once and does not come every day"
    assert fills_up(noted, told=False) == ""


def test_a_log_that_is_thrown_away_each_week_fills_nothing():
    noted = {day: 10 * GB - (day % 7) * GB for day in range(28)}
    assert fills_up(noted, told=True) == ""


def test_it_is_over_later_than_it_began():
    at_40_days = shrinking(11, 50 * GB, GB)
    assert days_left(at_40_days) == pytest.approx(40)
    assert fills_up(at_40_days, told=False) == ""
    assert fills_up(at_40_days, told=True) != ""
    assert fills_up(shrinking(11, 60 * GB, GB), told=True) == ""


@pytest.mark.parametrize(
    ("free", "words"), [(0.4, "less than a day"), (1.2, "about 1 day"), (1.6, "about 2 days"), (29.4, "about 29 days")]
)
def test_days_are_said_as_people_say_them(free, words):
    noted = {day: round((free + 10 - day) * 100e6) for day in range(11)}
    assert f"{free * 100:.0f} MB are left" in fills_up(noted, told=False) or "GB" in fills_up(noted, told=False)
    assert f"full in {words} at" in fills_up(noted, told=False)


@given(st.dictionaries(st.integers(0, 40), st.integers(0, 10**13), max_size=20))
def test_a_forecast_is_never_negative(noted):
    left = days_left(noted)
    assert left is None or left >= 0


def test_a_note_a_day_is_kept_for_a_month(tmp_path, monkeypatch):
    free = [0]
    monkeypatch.setattr(disk_room.shutil, "disk_usage", lambda _: SimpleNamespace(free=free[0]))
    room = DiskRoom(tmp_path)
    for day in range(50):
        for hour in (1, 20):
            free[0] = day * 100 + hour
            noted = room.note(day * DAY_MS + hour)
    assert noted == {day: day * 100 + 20 for day in range(50 - KEPT_DAYS, 50)}
    assert DiskRoom(tmp_path).note(49 * DAY_MS + 21) == noted, "it outlives the daemon"
    # A clock that was put back: what lies ahead is no past.
    assert set(room.note(47 * DAY_MS)) == set(range(20, 48))


def test_rubbish_in_its_file_begins_it_anew(tmp_path):
    for rubbish in ("", "[1]", '{"a": 1}', '{"1": null}', "\x00"):
        (tmp_path / FILE).write_text(rubbish)
        assert list(DiskRoom(tmp_path).note(5 * DAY_MS)) == [5]
    assert json.loads((tmp_path / FILE).read_text()).keys() == {"5"}
