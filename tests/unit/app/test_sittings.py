"""Old work is asked about once a sitting, and a second round of one minute names the first; nothing is lost by either."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from typed_command import ENTRIES, call, yard_of

yard = yard_of(ENTRIES)
DAYS = "Is the day right?"


def log(yard, *words, code=0):
    return call(yard, "log", *words, code=code)


def ago(days):
    return (datetime.now(ZoneInfo("America/New_York")) - timedelta(days=days)).strftime("%Y-%m-%d 09:00")


def fed(yard, days, *more, code=0):
    return log(yard, "fed", "b1", "2 lb", "--at", ago(days), *more, code=code)


def test_work_of_long_ago_is_asked_about_once_a_sitting(yard):
    assert DAYS in fed(yard, 60, "--by", "Ann", code=1)
    fed(yard, 60, "--by", "Ann", "--again")
    told = fed(yard, 55, "--by", "ann")
    assert "That is 55 days back, as with 1, so the day was not asked about." in told or "54 days back" in told
    assert "not asked about" in log(yard, "reading", "b1", "70", "--at", ago(45), "--by", "Ann")
    assert "not asked about" in fed(yard, 33, "--by", "Ann"), "from one to the next a whole season is caught up"
    assert "not asked about" not in fed(yard, 1, "--by", "Ann")


@pytest.mark.parametrize(
    ("days", "by"),
    [(60 + 365, "Ann"), (60 - 30, "Ann"), (60 + 31, "Ann"), (58, "Ben"), (58, "")],
    ids=["year", "month", "month before", "somebody else", "nobody said who"],
)
def test_a_mistyped_month_or_year_and_other_people_are_still_asked(yard, days, by):
    fed(yard, 60, "--by", "Ann", "--again")
    assert DAYS in fed(yard, days, *(["--by", by] if by else []), code=1)


def test_an_entry_taken_back_or_of_a_file_answers_for_no_other(yard):
    fed(yard, 60, "--again")
    log(yard, "undo", "1")
    assert DAYS in fed(yard, 59, code=1)
    (yard / "work.csv").write_text(f"time,place,kind\n{ago(60)[:10]}T12:00:00Z,b1,fed\n")
    call(yard, "import", yard / "work.csv")
    assert DAYS in fed(yard, 58, code=1)


def test_recent_work_answers_for_no_old_work(yard):
    fed(yard, 13)
    assert DAYS in fed(yard, 16, code=1)


def test_a_second_round_of_one_minute_names_the_first_before_it_is_believed(yard):
    at = ["--at", "yesterday 13:00"]
    log(yard, "built", "p2", "--at", "3 d ago")
    log(yard, "round", "p2", "131", "135", *at)
    told = log(yard, "round", "p2", "141", "135", *at, code=1)
    assert "Entry 2 has 131 °F of that very minute. If that was a slip, take it back first (log undo 2)" in told
    assert "written down already" in log(yard, "round", "p2", "131", "135", *at)
    log(yard, "undo", "2")
    assert "Written down as 3: Bay 2 141 °F at 1" in log(yard, "round", "p2", "141", "135", *at)
    assert "Written down as 4" in log(yard, "round", "p2", "131", "135", "--at", "yesterday 13:01")


def test_a_second_round_of_one_minute_that_is_taken_stands_beside_the_first_and_goes_with_it(yard):
    at = ["--at", "10 h ago"]
    log(yard, "built", "p2", "--at", "3 d ago")
    minute = datetime.now(ZoneInfo("America/New_York")) - timedelta(hours=10)
    at = ["--at", f"{minute:%Y-%m-%d %H:%M}"]
    log(yard, "round", "p2", "141", "145", *at)
    assert "(heaptender log undo 2 takes back both.)" in log(yard, "round", "p2", "131", "135", *at, "--again", code=1)
    log(yard, "undo", "2")
    assert "Last read" not in next(line for line in call(yard, "status", code=1).splitlines() if "Bay 2:" in line)


def test_a_second_value_that_may_mean_fire_waits_for_no_answer(yard):
    log(yard, "built", "p2", "--at", "3 d ago")
    minute = f"{datetime.now(ZoneInfo('America/New_York')) - timedelta(hours=1):%Y-%m-%d %H:%M}"
    log(yard, "reading", "p2", "131", "--at", minute)
    told = log(yard, "reading", "p2", "185", "--at", minute, code=1)
    assert "Not written down" not in told
    assert "log undo 2 takes back both" in told
