"""A Parquet file says what the CSV file of the same rows says, and is refused in a sentence where it says nothing."""

import io
import json
import tempfile
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.errors import MisuseError
from monitor.model.flags import Flag
from monitor.model.times import parse_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import (
    PARQUET,
    About,
    Kind,
    Problems,
    ReadingRow,
    Told,
    lines_of,
    read_labels,
    read_readings,
    read_work,
    sniff,
    stream_columns,
    write_readings,
    write_readings_parquet,
    write_work,
    write_work_parquet,
)

pa = pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")
pq = pytest.importorskip("pyarrow.parquet")

NINE = parse_time("2026-03-01T09:00:00Z")
ABOUT = About("Ostermoor gärten", "Europe/Berlin")
MEASURED = [(quantity, unit) for quantity in Quantity for unit in UNITS_OF[quantity]]
OF_PROBE = st.builds(
    lambda time, probe, measured, micro, received, quality: ReadingRow(
        time, probe, *_of(measured, micro), received, quality
    ),
    st.integers(0, 10**12),
    st.sampled_from(["p1-a", "b1-t", "süß", "=probe"]),
    st.sampled_from(MEASURED),
    st.integers(-(10**18) + 1, 10**18 - 1),
    st.one_of(st.none(), st.integers(0, 10**12)),
    st.sampled_from([None, *Flag]),
)
BY_HAND = st.builds(
    lambda time, spot, micro, told: ReadingRow(
        time, f"hand:p1:{spot}", Quantity.TEMPERATURE, micro, "Cel", time, None, told
    ),
    st.integers(0, 10**12),
    st.sampled_from(["core", "edge"]),
    st.integers(-(10**9), 10**9),
    st.sampled_from([None, Told("Ann"), Told("Bo", "dial", "300 mm"), Told(depth="12 in")]),
)


def _of(measured, micro):
    quantity, unit = measured
    return quantity, micro, unit


def packed(folder, rows, name="x.parquet"):
    path = Path(folder) / name
    with path.open("wb") as out:
        write_readings_parquet(rows, out, ABOUT)
    return path


@given(st.lists(st.one_of(OF_PROBE, BY_HAND), max_size=12))
def test_readings_come_back_as_from_csv(rows):
    with tempfile.TemporaryDirectory() as folder:
        text = io.StringIO(newline="")
        write_readings(rows, text, by_hand=True)
        path = Path(folder) / "x.csv"
        path.write_text(text.getvalue(), encoding="utf-8", newline="")
        parquet = packed(folder, rows)
        assert sniff(parquet, Problems()) is Kind.READINGS
        (there, problems), (here, none) = read_readings(parquet), read_readings(path)
        assert (there, [*problems], [*none]) == (here, [], [])
        wanted = {(row.probe, row.time) for row in rows}
        show = lambda found: [(one.line, one.probe, one.time, float(one.value), one.unit) for one in found]  # noqa: E731
        assert show(lines_of(parquet, wanted)) == [(line - 1, *rest) for line, *rest in show(lines_of(path, wanted))]


def test_many_readings_come_in_columns_and_keep_their_order(tmp_path):
    rows = [
        ReadingRow(NINE + n, f"p{n % 7}", Quantity.TEMPERATURE, n * 125, "Cel", NINE + n, Flag.PASS)
        for n in range(150_000)
    ]
    parts = list(stream_columns(packed(tmp_path, rows), problems := Problems()))
    assert len(parts) > 2
    assert len(problems) == 0
    assert [row for part in parts for row in part.rows()] == rows


def test_the_file_names_its_yard_its_columns_and_its_form(tmp_path):
    path = packed(tmp_path, [ReadingRow(NINE, "p1-a", Quantity.TEMPERATURE, 55_062_500, "Cel")])
    assert path.suffix == PARQUET
    schema = pq.read_schema(path)
    assert json.loads(schema.metadata[b"heaptender"]) == {
        "form": 1, "kind": "readings", "yard": "Ostermoor gärten", "time_zone": "Europe/Berlin",
    }  # fmt: skip
    assert {field.name: str(field.type) for field in schema} == {
        "time": "timestamp[ms, tz=UTC]", "probe": "string", "quantity": "string", "value": "decimal128(18, 6)",
        "unit": "string", "received": "timestamp[ms, tz=UTC]", "quality": "int8", "spot": "string", "depth": "string",
        "by": "string", "with": "string",
    }  # fmt: skip
    (row,) = pq.read_table(path).to_pylist()
    assert (row["value"], row["received"], row["quality"]) == (Decimal("55.062500"), None, None)


def test_work_comes_back_as_from_csv(tmp_path):
    work = [
        Work(time=NINE, place="p1", kind=WorkKind.BUILT, note="=1+1", by="Ann"),
        Work(
            time=NINE + 1,
            place="p1",
            kind=WorkKind.WATERED,
            entered=NINE + 9,
            amount="20.50",
            unit="L",
            note="hose, \ud800",
        ),
        Work(time=NINE + 2, place="p1", kind=WorkKind.MOVED, to="p2"),
    ]
    with (
        (tmp_path / "w.csv").open("w", encoding="utf-8", newline="") as text,
        (tmp_path / "w.parquet").open("wb") as out,
    ):
        assert write_work(work, text) == write_work_parquet(work, out, ABOUT) == 3
    assert sniff(tmp_path / "w.parquet", Problems()) is Kind.WORK
    lines = []
    there, problems = read_work(tmp_path / "w.parquet", lines=lines)
    assert (len(there), [*problems], lines) == (3, [], [1, 2, 3])
    here, _ = read_work(tmp_path / "w.csv")
    assert there == here
    assert here[1].note == "hose, \ufffd"


def foreign(folder, **columns):
    path = folder / "foreign.parquet"
    named = {"probe": pa.array(["a", "a"]).dictionary_encode(), "quantity": ["temperature"] * 2, "unit": ["Cel"] * 2}
    pq.write_table(pa.table(named | columns), path)
    return path


def instants(unit="us", zone="Europe/Berlin"):
    return (
        pa.array([NINE * 1000, (NINE + 1) * 1000], pa.int64())
        .cast(pa.timestamp("us", tz=zone))
        .cast(pa.timestamp(unit, tz=zone))
    )


def test_another_programs_file_is_read_too(tmp_path):
    path = foreign(tmp_path, time=instants(), value=pa.array([55.0625, -3.1], pa.float64()), extra=[1, 2])
    rows, problems = read_readings(path)
    assert ([row[:5] for row in rows], [*problems]) == (
        [
            (NINE, "a", Quantity.TEMPERATURE, 55_062_500, "Cel"),
            (NINE + 1, "a", Quantity.TEMPERATURE, -3_100_000, "Cel"),
        ],
        [],
    )


def test_a_row_that_cannot_be_right_is_told_with_its_number(tmp_path):
    path = foreign(tmp_path, time=instants(), value=pa.array([55.0, float("nan")]), quality=pa.array([1, 7]))
    rows, problems = read_readings(path)
    assert [row.micro for row in rows] == [55_000_000]
    (problem,) = problems
    assert str(problem).startswith(f"{path} line 2: 'nan' is not a number")
    assert "'7' is not a quality" in str(problem)
    path = foreign(tmp_path, time=instants(), value=[1, 2], unit=["Cel", "%"])
    assert [one.line for one in read_readings(path)[1]] == [2]


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (
            {"time": instants(zone=None), "value": [1.0, 2.0]},
            "the column time has no time zone; store it as a timestamp in UTC.",
        ),
        ({"time": instants(), "value": [[1.0], [2.0]]}, "the column value holds list<"),
    ],
)
def test_a_file_whose_columns_could_mean_anything_is_refused(tmp_path, columns, words):
    path = foreign(tmp_path, **columns)
    with pytest.raises(MisuseError) as fault:
        read_readings(path)
    assert words in str(fault.value)


def test_a_later_form_is_refused(tmp_path):
    path = packed(tmp_path, [])
    table = pq.read_table(path)
    pq.write_table(table.replace_schema_metadata({"heaptender": '{"form": 2}'}), path)
    with pytest.raises(MisuseError, match="is of form 2, and this Heaptender reads form 1; a newer one reads it"):
        read_readings(path)
    pq.write_table(table.replace_schema_metadata({"heaptender": "another program's"}), path)
    assert read_readings(path)[0] == []


def test_a_file_without_the_columns_is_no_recording(tmp_path):
    pq.write_table(pa.table({"a": [1]}), tmp_path / "x.parquet")
    assert sniff(tmp_path / "x.parquet", problems := Problems()) is None
    assert "the Parquet file has no columns of a recording; it needs (readings: time,probe,quantity,value,unit;" in str(
        next(iter(problems))
    )


def test_a_damaged_file_is_told(tmp_path):
    rows = [ReadingRow(NINE + n, f"p{n % 7}", Quantity.TEMPERATURE, n * n, "Cel") for n in range(5_000)]
    path = packed(tmp_path, rows)
    whole = path.read_bytes()
    path.write_bytes(whole[:-9])
    with pytest.raises(MisuseError, match="is a damaged Parquet file"):
        sniff(path, Problems())
    middle = len(whole) // 3
    path.write_bytes(whole[:middle] + bytes(200) + whole[middle + 200 :])
    read, problems = read_readings(path)
    assert len(read) < len(rows)
    assert "the Parquet file is damaged here" in str(next(iter(problems)))


def test_labels_may_be_parquet_too(tmp_path):
    labels = {"place": ["b1"], "start": instants()[:1], "end": instants()[1:], "kind": ["trouble"], "note": [None]}
    pq.write_table(pa.table(labels), tmp_path / "l.parquet")
    assert sniff(tmp_path / "l.parquet", Problems()) is Kind.LABELS
    (label,), _ = read_labels(tmp_path / "l.parquet")
    assert (label.place, label.start, label.end) == ("b1", NINE, NINE + 1)


def test_without_the_extra_it_says_what_to_install(tmp_path, monkeypatch):
    path = packed(tmp_path, [])
    monkeypatch.setattr("monitor.recordings.parquet_files.find_spec", lambda name: None)
    with pytest.raises(MisuseError, match=r"x\.parquet is a Parquet file\. Parquet files need the extra `fleet`"):
        read_readings(path)
    with pytest.raises(MisuseError, match="Parquet files need the extra `fleet`: pip install 'heaptender\\[fleet\\]'"):
        packed(tmp_path, [])


@pytest.mark.parametrize(
    ("column", "values"),
    [
        ("time", pa.array([5], pa.int8())),
        ("time", pa.array([10**17], pa.timestamp("ms", "UTC"))),
        ("probe", pa.array([5], pa.int8())),
        ("quantity", pa.array([b"temp\xf9"], pa.binary()).view(pa.string())),
        ("unit", pa.array([b"\xf9"], pa.binary()).view(pa.string())),
        ("received", pa.array([5], pa.int8())),
    ],
)
def test_a_column_of_another_type_or_without_sense_is_a_problem_and_no_error_of_the_library(tmp_path, column, values):
    """Found by fuzzing: the library's own errors came through."""
    columns = {
        "time": pa.array([NINE], pa.timestamp("ms", "UTC")),
        "probe": pa.array(["p1-a"]),
        "quantity": pa.array(["temperature"]),
        "value": pa.array([54.5]),
        "unit": pa.array(["Cel"]),
    }
    pq.write_table(pa.table(columns | {column: values}), tmp_path / "odd.parquet")
    rows, problems = read_readings(tmp_path / "odd.parquet")
    assert len(rows) + len(problems) == 1
