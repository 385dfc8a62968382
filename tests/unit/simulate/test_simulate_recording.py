"""Rows and lines are those the daemon reads."""

import csv
import io

from monitor.codec.serial_lines import decode_line
from monitor.model.work import Work, WorkKind
from monitor.simulate import Sample, wire_line
from tests.worlds import recorded_rows

SAMPLE = Sample(1_784_318_400_000, "p1-a", "temperature", 55.0625, "Cel")


def test_reading_rows():
    assert list(recorded_rows.reading_rows([SAMPLE])) == [
        ("time", "probe", "quantity", "value", "unit"),
        ("2026-07-17T20:00:00.000Z", "p1-a", "temperature", "55.0625", "Cel"),
    ]


def test_work_rows_survive_csv():
    work = Work(time=SAMPLE.time, place="p1", kind=WorkKind.TURNED, by="Yard keeper", note='outside in, "all" of it')
    text = io.StringIO()
    csv.writer(text).writerows(recorded_rows.work_rows([work]))
    text.seek(0)
    row = next(csv.DictReader(text))
    assert row["time"] == "2026-07-17T20:00:00.000Z"
    assert (row["place"], row["kind"], row["note"]) == ("p1", "turned", 'outside in, "all" of it')
    assert row["entered"] == ""


def test_label_rows():
    label = recorded_rows.Label(place="b1", start=0, end=60_000, kind="trouble", note="too hot")
    assert list(recorded_rows.label_rows([label]))[1] == (
        "b1", "1970-01-01T00:00:00.000Z", "1970-01-01T00:01:00.000Z", "trouble", "too hot",
    )  # fmt: skip


def test_numbers_have_no_idle_zeros():
    assert [recorded_rows.number(value) for value in (55.0, 55.0625, -127.0, -0.0, 0.1)] == [
        "55", "55.0625", "-127", "0", "0.1",
    ]  # fmt: skip


def test_the_wire_line_decodes_to_the_same_value():
    line = wire_line(SAMPLE)
    assert line == b"p1-a temperature 55.0625 Cel 2026-07-17T20:00:00.000Z*" + line[-3:]
    decoded = decode_line(line.rstrip(b"\n"), SAMPLE.time + 5)
    heard = decoded.heard[0]
    assert (heard.address, heard.quantity, heard.micro, heard.unit, heard.time) == (
        "p1-a", "temperature", 55_062_500, "Cel", SAMPLE.time,
    )  # fmt: skip
    assert wire_line(SAMPLE, timed=False).startswith(b"p1-a temperature 55.0625 Cel*")
