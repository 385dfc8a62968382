"""Readings that somebody took by hand: who, with which thermometer, how deep and at which spot, in a file and back."""

import io

import pytest

from monitor.model.times import parse_time
from monitor.model.units import Quantity
from monitor.recordings import (
    Problems,
    ReadingRow,
    Told,
    columns_of,
    joined,
    lines_of,
    read_readings,
    stream_columns,
    write_readings,
)

NINE = parse_time("2026-03-01T09:00:00Z")
HEADER = "time,probe,quantity,value,unit,spot,depth,by,with\n"


def hand(ms, series="hand:p1:middle", told=None, **more):
    return ReadingRow(NINE + ms, series, Quantity.TEMPERATURE, 55_000_000, "Cel", told=told, **more)


MIXED = [
    hand(0, told=Told("Ann", "long dial", "60 cm")),
    ReadingRow(NINE, "p1-a", Quantity.TEMPERATURE, 54_000_000, "Cel"),
    hand(60_000, "hand:p1", Told(by="Ben")),
    hand(120_000, "hand:p1:edge"),
    hand(180_000, told=Told(depth="2 ft")),
]


def read(tmp_path, text):
    path = tmp_path / "r.csv"
    path.write_text(text, encoding="utf-8")
    rows, problems = read_readings(path)
    assert problems.sentences() == []
    return rows


def test_columns_keep_who_read_and_with_what():
    assert list(columns_of(MIXED).rows()) == MIXED
    assert list(joined(map(columns_of, (MIXED[:2], [], MIXED[2:]))).rows()) == MIXED
    assert dict(columns_of(MIXED).told) == {0: MIXED[0].told, 2: MIXED[2].told, 4: MIXED[4].told}


def test_hand_readings_are_written_and_read_as_they_were(tmp_path):
    out = io.StringIO()
    assert write_readings(MIXED, out, by_hand=True) == len(MIXED)
    lines = out.getvalue().splitlines()
    assert lines[0] == "time,probe,quantity,value,unit,received,quality,spot,depth,by,with"
    assert [line.split(",")[7:] for line in lines[1:]] == [
        ["middle", "60 cm", "Ann", "long dial"],
        ["", "", "", ""],
        ["", "", "Ben", ""],
        ["edge", "", "", ""],
        ["middle", "2 ft", "", ""],
    ]
    assert read(tmp_path, out.getvalue()) == MIXED


def test_without_their_columns_hand_readings_keep_their_values_only(tmp_path):
    out = io.StringIO()
    write_readings(MIXED, out)
    assert out.getvalue().splitlines()[0] == "time,probe,quantity,value,unit,received,quality"
    assert read(tmp_path, out.getvalue()) == [row._replace(told=None) for row in MIXED]


@pytest.mark.parametrize(
    ("probe", "spot", "series"),
    [
        ("hand:p1", "middle", "hand:p1:middle"),
        ("hand:p1", " middle ", "hand:p1:middle"),
        ("hand:p1:middle", "middle", "hand:p1:middle"),
        ("hand:p1", "", "hand:p1"),
        ("p1-a", "middle", "p1-a"),
    ],
)
def test_a_spot_makes_a_series_of_its_own_for_hand_readings_alone(tmp_path, probe, spot, series):
    (row,) = read(tmp_path, HEADER + f"2026-03-01T09:00:00Z,{probe},temperature,55,Cel,{spot},,,\n")
    assert (row.probe, row.told) == (series, None)


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        ("60 cm,,", Told(depth="60 cm")),
        (", Ann ,", Told(by="Ann")),
        (",,dial", Told(thermometer="dial")),
        (" , , ", None),
    ],
)
def test_one_detail_of_a_hand_reading_is_enough_to_be_kept(tmp_path, cells, told):
    plain = "2026-03-01T09:00:00Z,p1-a,temperature,55,Cel,,,,\n"
    rows = read(tmp_path, HEADER + plain + f"2026-03-01T10:00:00Z,hand:p1,temperature,55,Cel,,{cells}\n" + plain)
    assert [row.told for row in rows] == [None, told, None]


def test_the_rows_of_certain_readings_are_found_with_their_lines_as_they_are_written(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(
        HEADER
        + "2026-03-01T09:00:00Z,p1-a,temperature, 131.0 , F ,,,,\n"
        + "2026-03-01T09:00:00Z,p1-a,moisture,60,%,,,,\n"  # another quantity of the same instant
        + "2026-03-01T09:00:00Z,p1-b,temperature,50,Cel,,,,\n"
        + "2026-03-01T10:00:00Z,p1-a,temperature,51,Cel,,,,\n"
        + "2026-03-01T10:00:00Z,hand:p1,temperature,5x,Cel,edge,,,\n"  # no number, but readable as to time and place
        + "noon,hand:p1,temperature,52,Cel,edge,,,\n",
        encoding="utf-8",
    )
    wanted = {("p1-a", NINE), ("hand:p1:edge", NINE + 3_600_000), ("p1-c", NINE)}
    assert [tuple(row) for row in lines_of(path, wanted)] == [
        (2, "p1-a", NINE, "131.0", "F"),
        (6, "hand:p1:edge", NINE + 3_600_000, "5x", "Cel"),
    ]
    assert list(lines_of(path, set())) == []


def test_a_block_with_a_hand_reading_keeps_its_probes(tmp_path):
    path = tmp_path / "r.csv"
    probes = "".join(f"2026-03-01T09:00:{n % 60:02}Z,p1-{n % 3},temperature,{n},Cel,,,,\n" for n in range(200))
    path.write_text(HEADER + probes + "2026-03-01T09:00:00Z,hand:p1,temperature,1,Cel,,,Ann,\n" + probes)
    columns = joined(stream_columns(path, Problems()))
    assert len(columns) == 401
    assert set(columns.names) == {"p1-0", "p1-1", "p1-2", "hand:p1"}
    assert dict(columns.told) == {200: Told(by="Ann")}
