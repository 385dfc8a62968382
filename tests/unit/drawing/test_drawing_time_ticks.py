"""Ticks stand at round local times, right across a change of the clocks, from minutes to centuries."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing.lettering import width_of
from monitor.drawing.time_ticks import fitting, time_ticks
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time, show_time

YORK = ZoneInfo("America/New_York")
ZONES = ["America/New_York", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe", "America/Sao_Paulo", "UTC"]


def _told(start: str, hours: float, width: float, zone: ZoneInfo = YORK) -> list[tuple[str, str, str]]:
    begin = parse_time(start)
    ticks = time_ticks(begin, begin + int(hours * HOUR_MS), zone, width)
    return [(show_time(tick.at)[:16], tick.words, tick.belongs) for tick in ticks]


def test_hours_when_clocks_go_forward():
    # 2026-03-08 07:00Z: 02:00 EST becomes 03:00 EDT; there is no 02:00.
    assert _told("2026-03-08T04:30:00Z", 6, 330) == [
        ("2026-03-08T05:00", "00:00", "Sun 8 Mar"),
        ("2026-03-08T06:00", "01:00", ""),
        ("2026-03-08T07:00", "03:00", ""),
        ("2026-03-08T08:00", "04:00", ""),
        ("2026-03-08T09:00", "05:00", ""),
        ("2026-03-08T10:00", "06:00", ""),
    ]


def test_hours_when_clocks_go_back():
    # 2026-11-01 06:00Z: 02:00 EDT becomes 01:00 EST; 01:00 comes twice.
    assert _told("2026-11-01T03:30:00Z", 4.5, 330) == [
        ("2026-11-01T04:00", "00:00", "Sun 1 Nov"),
        ("2026-11-01T05:00", "01:00 EDT", ""),
        ("2026-11-01T06:00", "01:00 EST", ""),
        ("2026-11-01T07:00", "02:00", ""),
        ("2026-11-01T08:00", "03:00", ""),
    ]


def test_every_six_hours_across_both_changes():
    found = _told("2026-03-07T17:00:00Z", 48, 400)
    assert " ".join(words for _, words, _ in found) == "12:00 18:00 00:00 06:00 12:00 18:00 00:00 06:00 12:00"
    assert " ".join(at[11:] for at, _, _ in found) == "17:00 23:00 05:00 10:00 16:00 22:00 04:00 10:00 16:00"


def test_days_begin_at_local_midnight_on_both_sides_of_a_change():
    found = _told("2026-03-06T12:00:00Z", 120, 400)
    assert [at for at, words, _ in found if words in ("8 Mar", "9 Mar")] == ["2026-03-08T05:00", "2026-03-09T04:00"]
    assert found[0][2] == "2026"


def test_a_day_whose_midnight_is_skipped_begins_at_its_first_instant():
    # 2018-11-04 in Sao Paulo: 00:00 became 01:00.
    zone = ZoneInfo("America/Sao_Paulo")
    assert ("2018-11-04T03:00", "4 Nov", "") in _told("2018-11-01T03:00:00Z", 24 * 6, 500, zone)
    assert ("2018-11-04T03:00", "01:00", "Sun 4 Nov") in _told("2018-11-04T01:00:00Z", 8, 400, zone)


def test_weeks_begin_on_monday_and_months_on_the_first():
    for at, _, _ in _told("2026-01-01T00:00:00Z", 24 * 60, 600):
        assert datetime.fromisoformat(at + "Z").astimezone(YORK).weekday() == 0
    months = _told("2025-11-15T00:00:00Z", 24 * 200, 360)
    assert [words for _, words, _ in months] == ["Dec", "Jan", "Feb", "Mar", "Apr", "May", "Jun"]
    assert [belongs for _, _, belongs in months] == ["2025", "2026", "", "", "", "", ""]


def test_years_and_minutes():
    assert [words for _, words, _ in _told("2019-06-01T00:00:00Z", 24 * 365 * 6, 360)][:2] == ["2020", "2021"]
    assert (
        " ".join(words for _, words, _ in _told("2026-06-01T12:01:00Z", 0.2, 360))
        == "08:02 08:04 08:06 08:08 08:10 08:12"
    )


@given(
    zone=st.sampled_from(ZONES),
    start=st.integers(-2_000_000_000_000, 4_000_000_000_000),
    span=st.one_of(st.integers(5 * MINUTE_MS, 3 * DAY_MS), st.integers(DAY_MS, 4000 * DAY_MS)),
    width=st.integers(150, 1200),
)
def test_ticks_are_round_in_order_and_have_room(zone: str, start: int, span: int, width: int):
    zone_info = ZoneInfo(zone)
    ticks = time_ticks(start, start + span, zone_info, width)
    assert ticks
    assert len(ticks) <= width / 25 + 2
    for before, after in zip([None, *ticks], ticks, strict=False):
        assert start <= after.at <= start + span
        assert before is None or before.at < after.at
        local = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=after.at)).astimezone(zone_info)
        if abs(start) < 3_000_000_000_000 and local.year > 1925:  # local mean time before has odd seconds
            assert (local.second, local.microsecond) == (0, 0)
        if ":" in after.words:
            assert after.words[:5] == f"{local.hour:02d}:{local.minute:02d}"
    places = [width * (tick.at - start) / span for tick in ticks]
    right = float("-inf")
    for words, x in zip(fitting(ticks, places, 11), places, strict=True):
        if words:
            assert x - width_of(words, 11) / 2 >= right
            right = x + width_of(words, 11) / 2


@pytest.mark.parametrize(("start", "end"), [(-(2**60), 2**60), (5, 5), (2**61, 2**62), (-(2**62), -(2**61))])
def test_absurd_spans_do_no_harm(start: int, end: int):
    assert len(time_ticks(start, end, YORK, 360)) < 40
