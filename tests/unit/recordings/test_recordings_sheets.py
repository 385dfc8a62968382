"""Spreadsheets as people have them: read where there is one reading, asked about where there are two."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.errors import MisuseError
from monitor.model.times import parse_time, show_time
from monitor.model.units import unit_code
from monitor.recordings import DateOrder, Problems, SheetForms, read_labels, read_readings, read_work, sniff
from monitor.recordings.sheet_forms import SheetQuestionError, SheetTimes, sheet_micro

BERLIN = SheetForms(time_zone="Europe/Berlin")
NEW_YORK = SheetForms(time_zone="America/New_York")


@pytest.fixture
def put(tmp_path):
    def put(text, name="r.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return put


def rows(path, forms):
    found, problems = read_readings(path, forms=forms)
    return [(show_time(row.time), row.probe, row.micro, row.unit) for row in found], problems.sentences()


# What a spreadsheet writes, and the instant that is meant; zones by the IANA rules for 2026.
WAYS = [
    ("01.06.2026 09:00", BERLIN, "2026-06-01T07:00:00.000Z"),
    ("1.6.26 9:00", BERLIN, "2026-06-01T07:00:00.000Z"),
    ("2026-06-01 09:00:00", BERLIN, "2026-06-01T07:00:00.000Z"),
    ("2026-06-01 09:00", NEW_YORK, "2026-06-01T13:00:00.000Z"),
    ("2026/6/1 09:00:30.5", NEW_YORK, "2026-06-01T13:00:30.500Z"),
    ("6/13/2026 9:00 AM", NEW_YORK, "2026-06-13T13:00:00.000Z"),
    ("6/13/2026 12:05 am", NEW_YORK, "2026-06-13T04:05:00.000Z"),
    ("6/13/2026, 12:05:09 PM", NEW_YORK, "2026-06-13T16:05:09.000Z"),
    ("13/6/2026 21:00", BERLIN, "2026-06-13T19:00:00.000Z"),
    # 46174 days after 1899-12-30 are 2026-06-01; three eighths of a day are nine hours (computed)
    ("46174.375", BERLIN, "2026-06-01T07:00:00.000Z"),
    ("46174,375", BERLIN, "2026-06-01T07:00:00.000Z"),
    ("46174.37847222222", BERLIN, "2026-06-01T07:05:00.000Z"),
    ("2026-06-01T09:00:00+0200", SheetForms(), "2026-06-01T07:00:00.000Z"),
    ("2026-06-01T09:00:00Z", SheetForms(), "2026-06-01T09:00:00.000Z"),
]


@pytest.mark.parametrize(("text", "forms", "meant"), WAYS)
def test_times_as_spreadsheets_write_them(put, text, forms, meant):
    path = put(f'time,probe,quantity,value,unit\n"{text}",a,temperature,60,Cel\n')
    assert rows(path, forms) == ([(meant, "a", 60_000_000, "Cel")], [])


def test_the_order_of_day_and_month_is_that_of_the_first_date_that_has_one(put):
    head = "time,probe,quantity,value,unit\n"
    ambiguous = "6/1/2026 9:00,a,temperature,60,Cel\n"
    us = put(head + ambiguous + "6/13/2026 9:00,a,temperature,61,Cel\n")
    assert [row[0] for row in rows(us, BERLIN)[0]] == ["2026-06-01T07:00:00.000Z", "2026-06-13T07:00:00.000Z"]
    eu = put(head + ambiguous + "13/1/2026 9:00,a,temperature,61,Cel\n")
    assert [row[0] for row in rows(eu, BERLIN)[0]] == ["2026-01-06T08:00:00.000Z", "2026-01-13T08:00:00.000Z"]
    with pytest.raises(MisuseError, match=r"line 2: '6/1/2026 9:00' may name the day or the month first.*--dates"):
        rows(put(head + ambiguous), BERLIN)
    with pytest.raises(MisuseError, match=r"--dates month-first and, unless its times name their zone, --time-zone"):
        rows(put(head + ambiguous), SheetForms())
    with pytest.raises(MisuseError, match=r"--dates month-first\.?$"):
        rows(put(head + ambiguous), BERLIN)
    said = SheetForms(time_zone="Europe/Berlin", order=DateOrder.DAY_FIRST)
    assert rows(put(head + ambiguous), said)[0][0][0] == "2026-01-06T08:00:00.000Z"
    with pytest.raises(MisuseError, match="different orders"):
        rows(put(head + "6/13/2026 9:00,a,temperature,60,Cel\n13/6/2026 9:00,a,temperature,60,Cel\n"), BERLIN)
    # the same day either way needs no answer
    assert rows(put(head + "6/6/2026 9:00,a,temperature,60,Cel\n"), BERLIN)[1] == []


def test_where_the_file_cannot_be_read_twice_the_order_is_asked_for_at_once():
    """A pipe: no other date of it can say which, and the sentence does not claim that none does."""
    times = SheetTimes(BERLIN)
    assert show_time(times("6/6/2026 9:00")) == "2026-06-06T07:00:00.000Z"
    with pytest.raises(SheetQuestionError, match="may name the day or the month first; add --dates day-first"):
        times("6/1/2026 9:00")


def test_every_date_of_a_file_says_what_order_it_has_wherever_it_stands(put):
    """A first row in RFC 3339 hid the later ones: *no date of the file says which*, beside 13/6/2026."""
    head = "time,probe,quantity,value,unit,received\n2026-06-01T09:00:00Z,a,temperature,60,Cel,\n"
    ambiguous = "6/1/2026 9:00,a,temperature,60,Cel,\n"
    eu = put(head + ambiguous + "13/6/2026 9:00,a,temperature,61,Cel,\n")
    assert [row[0] for row in rows(eu, BERLIN)[0]][1:] == ["2026-01-06T08:00:00.000Z", "2026-06-13T07:00:00.000Z"]
    # any column of times tells, also one that most rows leave empty
    received = put(head + ambiguous + "6/2/2026 9:00,a,temperature,61,Cel,13/6/2026 9:00\n")
    assert [row[0] for row in rows(received, BERLIN)[0]][1:] == ["2026-01-06T08:00:00.000Z", "2026-02-06T08:00:00.000Z"]
    asked = put(head + ambiguous)
    with pytest.raises(MisuseError, match=r"line 3: '6/1/2026 9:00' may name .* no date of the file says which"):
        rows(asked, BERLIN)
    work = put(
        "time,entered,place,kind\n2026-06-01T09:00:00Z,,p1,built\n6/1/2026 9:00,13/6/2026 9:00,p1,turned\n", "w.csv"
    )
    assert show_time(read_work(work, forms=BERLIN)[0][1].time) == "2026-01-06T08:00:00.000Z"


def test_a_file_with_both_orders_is_told_with_its_lines(put):
    head = "time,probe,quantity,value,unit\n2026-06-01T09:00:00Z,a,temperature,60,Cel\n"
    both = put(
        head
        + "6/13/2026 9:00,a,temperature,60,Cel\n14.6.2026 9:00,a,temperature,60,Cel\n15/6/2026 9:00,a,temperature,60,Cel\n"
    )
    with pytest.raises(
        MisuseError, match=r"'6/13/2026 9:00' \(line 3\) and '15/6/2026 9:00' \(line 5\) .*different orders"
    ):
        rows(both, BERLIN)


def test_columns_can_be_named_for_one_kind_of_files_alone(put):
    """`--column time=When` went to both files, so two files with other names for the time could not be read together."""
    readings = put("When,Day,probe,quantity,value,unit\n2026-06-01T09:00:00Z,x,a,temperature,60,Cel\n")
    work = put("When,Day,place,kind\nx,2026-06-02T09:00:00Z,p1,turned\n", "w.csv")
    forms = SheetForms(
        of_kind={"readings": SheetForms(columns={"time": "When"}), "work": SheetForms(columns={"time": "Day"})}
    )
    assert rows(readings, forms) == ([("2026-06-01T09:00:00.000Z", "a", 60_000_000, "Cel")], [])
    assert show_time(read_work(work, forms=forms)[0][0].time) == "2026-06-02T09:00:00.000Z"
    assert (sniff(readings, Problems(), forms), sniff(work, Problems(), forms)) == ("readings", "work")
    # what is said of one kind goes before what is said of all
    mixed = SheetForms(columns={"time": "Day"}, of_kind={"readings": SheetForms(columns={"time": "When"})})
    assert not rows(readings, mixed)[1]
    assert not read_work(work, forms=mixed)[1].sentences()
    # one that is not there is told, though the file could be read without it
    slip = SheetForms(of_kind={"work": SheetForms(columns={"time": "Day", "by": "Whoo"})})
    assert "the header has no column 'Whoo'" in read_work(work, forms=slip)[1].sentences()[0]
    everywhere = SheetForms(columns={"time": "Dag"})
    assert "--column work:time=THEIRS" in read_work(work, forms=everywhere)[1].sentences()[0]
    filled = SheetForms(fills={"time": "x"}, of_kind={"work": SheetForms(columns={"time": "Day"})})
    assert not read_work(work, forms=filled)[1].sentences()


def test_a_time_without_a_zone_is_asked_about(put):
    path = put("time,probe,quantity,value,unit\n2026-06-01 09:00,a,temperature,60,Cel\n")
    with pytest.raises(MisuseError, match=r"names no time zone; add --time-zone"):
        rows(path, SheetForms())
    work = put("time,place,kind\n2026-06-01 09:00,p1,turned\n", "w.csv")
    with pytest.raises(MisuseError, match=r"w\.csv line 2: .* names no time zone"):
        read_work(work)
    assert show_time(read_work(work, forms=BERLIN)[0][0].time) == "2026-06-01T07:00:00.000Z"
    labels = put("place,start,end,kind\nb1,01.06.2026 09:00,01.06.2026 10:00,trouble\n", "l.csv")
    assert [show_time(one.end) for one in read_labels(labels, forms=BERLIN)[0]] == ["2026-06-01T08:00:00.000Z"]


def test_an_hour_that_came_twice_or_never_is_refused_alone(put):
    head = "time,probe,quantity,value,unit\n"
    twice, never = "2026-11-01 01:30,a,temperature,60,Cel\n", "2026-03-08 02:30,a,temperature,60,Cel\n"
    fine = "2026-11-01 03:00,a,temperature,60,Cel\n"
    found, problems = rows(put(head + twice + never + fine), NEW_YORK)
    assert [row[0] for row in found] == ["2026-11-01T08:00:00.000Z"]
    assert len(problems) == 2
    assert all("came twice or never" in one for one in problems)


@pytest.mark.parametrize(
    "text", ["2026-06-01", "01.06.2026", "13:00", "31.02.2026 09:00", "6/13/2026 13:00 PM", "1.6.026 9:00"]
)
def test_what_is_no_time_is_told(put, text):
    found, problems = rows(put(f"time,probe,quantity,value,unit\n{text},a,temperature,60,Cel\n"), BERLIN)
    assert found == []
    assert len(problems) == 1


@given(st.datetimes(datetime(2001, 1, 1), datetime(2099, 12, 31)).map(lambda one: one.replace(microsecond=0)))  # noqa: DTZ001
def test_all_ways_of_one_local_time_are_one_instant(moment):
    zone = ZoneInfo("Europe/Berlin")
    early, late = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() != late.utcoffset():
        return
    meant = round(early.astimezone(UTC).timestamp()) * 1000
    day = (moment - datetime(1899, 12, 30)).total_seconds() / 86_400  # noqa: DTZ001
    us = SheetTimes(SheetForms(time_zone="Europe/Berlin", order=DateOrder.MONTH_FIRST))
    eu = SheetTimes(SheetForms(time_zone="Europe/Berlin", order=DateOrder.DAY_FIRST))
    assert us(f"{moment:%m/%d/%Y %I:%M:%S %p}") == meant
    assert eu(f"{moment:%d/%m/%Y %H:%M:%S}") == meant
    assert eu(f"{moment:%d.%m.%Y %H:%M:%S}") == meant
    assert us(f"{moment:%Y-%m-%d %H:%M:%S}") == meant
    assert us(f"{day:.9f}") == meant
    assert us(early.isoformat()) == parse_time(early.isoformat()) == meant


def test_numbers_with_a_comma(put):
    semicolons = put("sep=;\ntime;probe;quantity;value;unit\n2026-06-01T09:00:00Z;a;temperature;60,0625;°C\n")
    assert rows(semicolons, SheetForms())[0][0][2:] == (60_062_500, "Cel")
    quoted = put('time,probe,quantity,value,unit\n2026-06-01T09:00:00Z,a,temperature,"60,5",C\n')
    assert rows(quoted, SheetForms())[0][0][2:] == (60_500_000, "Cel")
    # three digits behind a comma are decimals where the comma parts nothing, and may be thousands elsewhere
    assert sheet_micro("23,125", ";") == 23_125_000
    with pytest.raises(ValueError, match="thousands"):
        sheet_micro("23,125", ",")
    with pytest.raises(ValueError, match="is not a number"):
        sheet_micro("1.234,5", ";")


def test_units_as_people_write_them():
    assert {unit_code(text) for text in ("°F", "F", "f", "degF", "deg F", "℉", "[degF]", " ° F", "Fahrenheit")} == {
        "[degF]"
    }
    assert {unit_code(text) for text in ("°C", "C", "c", "degC", "℃", "Cel", "celsius", "cel")} == {"Cel"}
    assert unit_code("K") == "K"
    assert unit_code("%") == unit_code("percent") == "%"
    assert unit_code("mV") == "mV"
    assert unit_code("furlong") == "furlong"


def test_a_missing_header_is_told_as_that(put):
    path = put("2026-06-01T09:00:00Z,a,temperature,60,Cel\n")
    assert "the first line is a row, not the names of the columns" in rows(path, SheetForms())[1][0]
    problems = Problems()
    assert sniff(path, problems) is None
    assert "the first line is a row" in problems.sentences()[0]


def test_all_that_is_wrong_with_a_row_is_told_at_once(put):
    [told] = rows(put("time,probe,quantity,value,unit\nx,,heat,zz,furlong\n"), BERLIN)[1]
    assert [word in told for word in ("'x' is not a time", "the probe is empty", "'heat' is not a quantity", "'zz'")] == [
        True, True, True, True,
    ]  # fmt: skip


def test_columns_can_be_named_and_filled(put):
    text = 'sep=;\nZeit;"Temp; innen";Wert\n01.06.2026 09:00;60,5;9\n'
    forms = SheetForms(
        time_zone="Europe/Berlin",
        columns={"time": "Zeit", "value": "Temp; innen"},
        fills={"probe": "dial", "quantity": "temperature", "unit": "°C"},
    )
    path = put(text)
    assert rows(path, forms) == ([("2026-06-01T07:00:00.000Z", "dial", 60_500_000, "Cel")], [])
    assert sniff(path, Problems(), forms) == "readings"
    # a namesake of a column that a person named otherwise is not taken for it
    both = put("time,probe,quantity,value,unit,other\n2026-06-01T09:00:00Z,a,temperature,1,Cel,60\n")
    assert rows(both, SheetForms(columns={"value": "other"}))[0][0][2] == 60_000_000
    strange = SheetForms(columns={"value": "Temp"})
    assert "the header has no column 'Temp'" in rows(put("time,probe,quantity,unit\n"), strange)[1][0]


def test_a_cell_that_is_not_understood_is_shown_as_it_stands(put):
    said = rows(put("time,probe,quantity,value,unit\n2026-06-01T09:00:00Z,a,temperature,61,°Ré\n"), BERLIN)[1][0]
    assert "'°Ré' is not a unit of temperature; these are: Cel, [degF], K, or as people write them (°C, °F)" in said
    hidden = rows(
        put("time,probe,quantity,value,unit\n2026-06-01T09:00:00Z,a,temperature,61,x\x1b[2J\u202e\n"), BERLIN
    )[1][0]
    assert r"'x\x1b[2J\u202e'" in hidden


def test_what_is_said_of_the_readings_is_not_written_into_the_work_beside_them(put):
    """`--fill probe=dial --fill unit=C` gave every turning a probe and an amount in degrees, in the record for good."""
    forms = SheetForms(fills={"probe": "dial", "quantity": "temperature", "unit": "C"})
    rows_of_work = (
        "2026-06-01T09:00:00Z,p1,built,\n2026-06-02T09:00:00Z,p1,watered,40\n2026-06-02T10:00:00Z,p1,probe in,\n"
    )
    path = put("time,place,kind,amount\n" + rows_of_work)
    found, problems = read_work(path, forms=forms)
    assert not problems.sentences()
    assert [(work.probe, work.unit) for work in found] == [("", ""), ("", ""), ("dial", "")]
    litres, _ = read_work(path, forms=SheetForms(fills={"unit": "L"}))
    assert [work.unit for work in litres] == ["", "L", ""]
    own, _ = read_work(put("time,place,kind,probe,unit\n2026-06-01T09:00:00Z,p1,built,a,C\n"), forms=forms)
    assert (own[0].probe, own[0].unit) == ("a", "C")
