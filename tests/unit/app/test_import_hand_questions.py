"""Readings by hand in a file are asked about like those that are typed: slips of the unit, mistyped spots, empty places."""

import pytest
from typed_command import ENTRIES, call, yard_of

NAMED = ENTRIES.replace('name = "Bay 2"', 'name = "Bay 2"\nspots = ["west", "east"]')
yard = yard_of(NAMED)
HEAD = "time,probe,quantity,value,unit,spot,by\n"
BUILT = "time,place,kind\n2026-05-31T12:00:00Z,p2,built\n"


def row(time, value, *, place="p2", spot="west", unit="F"):
    return f"2026-06-{time}:00:00Z,hand:{place}{':' if spot else ''}{spot},temperature,{value},{unit},,Ann\n"


def brought(yard, *rows, more=(), code=0):
    (yard / "work.csv").write_text(BUILT)
    (yard / "hand.csv").write_text(HEAD + "".join(rows))
    return call(yard, "import", yard / "work.csv", yard / "hand.csv", *more, code=code)


def test_a_value_in_the_wrong_unit_is_asked_about_with_its_file_and_line(yard):
    slip = row("02T12", 60)
    told = brought(yard, row("01T12", 140), slip, row("03T12", 141), code=1)
    assert "hand.csv, line 3: Bay 2 at west: 60 °F is 80 °F less" in told
    assert "Was 60 °C meant?" in told
    assert "Nothing was taken in: 1 question." in told
    assert "Taken in: 3 readings" in brought(yard, row("01T12", 140), slip, row("03T12", 141), more=["--again"])


def test_plausible_rounds_raise_no_question_and_come_in_twice_without_one(yard):
    rows = [row(f"{day:02}T12", 140 + day, spot=spot) for day in range(1, 9) for spot in ("west", "east")]
    assert "Taken in: 16 readings" in brought(yard, *rows)
    assert "There already: 16 readings" in brought(yard, *rows)


def test_what_was_turned_in_the_file_may_be_colder(yard):
    (yard / "turned.csv").write_text("time,place,kind\n2026-06-01T20:00:00Z,p2,turned\n")
    brought(yard, row("01T12", 150))
    (yard / "hand.csv").write_text(HEAD + row("02T00", 95))
    assert "95 °F is 55 °F less" in call(yard, "import", yard / "hand.csv", code=1)
    assert "Taken in" in call(yard, "import", yard / "turned.csv", yard / "hand.csv")


@pytest.mark.parametrize(
    ("value", "asked"), [("145", False), ("85", True), ("180", False)], ids=["alike", "colder", "a fire"]
)
def test_the_last_value_of_the_record_counts_too(yard, value, asked):
    brought(yard, row("01T12", 150))
    (yard / "hand.csv").write_text(HEAD + row("02T12", value))
    told = call(yard, "import", yard / "hand.csv", code=1 if asked else 0)
    assert ("Is the value right?" in told) is asked


def test_a_spot_that_the_place_has_not_is_asked_about(yard):
    told = brought(yard, row("01T12", 140, spot="wset"), code=1)
    assert 'Bay 2 has no spot "wset"; its spots are west, east. Is the spot right?' in told


def test_an_empty_place_is_asked_about_once(yard):
    (yard / "emptied.csv").write_text(
        "time,place,kind\n2026-05-01T12:00:00Z,p3,built\n2026-05-02T12:00:00Z,p3,emptied\n"
    )
    call(yard, "import", yard / "emptied.csv")
    rows = [row(f"{day:02}T12", 120, place="p3", spot="") for day in range(1, 5)]
    told = brought(yard, *rows, code=1)
    assert told.count("Nothing lies on Bay 3") == 1
    assert "1 question" in told


def test_readings_begin_a_heap_where_none_was_ever_logged(yard):
    assert "Taken in: 2 readings" in brought(yard, *(row(f"{day:02}T12", 120, place="p3", spot="") for day in (1, 2)))
