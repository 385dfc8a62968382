"""`report` over many yards: one table, sums that name what is unknown, and rows that travel as Parquet."""

import csv
import io
import json
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_report_command import METHANE, YARD, story
from typed_command import call, typed

from monitor.app.reporting import read_rows, write_rows
from monitor.model.errors import MisuseError
from monitor.reports import FLAT, Known, Unread, YardRow, all_yards, flat, row_of

OCTOBER = ("--month", "2026-10")


@pytest.fixture
def yards(tmp_path):
    """Tern counts in lb and has a story, Wren in kg and a factor for methane; Rook has no record."""
    made = {}
    for name, text in (
        ("Tern", YARD.replace("Test yard", "Tern")),
        (
            "Wren",
            YARD.replace("Test yard", "Wren").replace("degF", "degC").replace("[piles.p1]", METHANE + "[piles.p1]", 1),
        ),
        ("Rook", YARD.replace("Test yard", "Rook")),
    ):
        made[name] = tmp_path / name
        made[name].mkdir()
        (made[name] / "heaptender.toml").write_text(text.replace("America/New_York", "Europe/Vienna"))
    story(made["Tern"])
    for words in (
        ("delivery", "leaves", "1 t", "--from", "the park", "--at", "2026-10-05 10:00"),
        ("delivery", "dung", "3 barrows", "--from", "the stable", "--at", "2026-10-06 10:00"),
        ("watered", "p1", "--at", "2026-10-07 10:00"),
    ):
        call(made["Wren"], "log", *words, "--again")
    return made


def told(*words, code=0):
    return json.loads(typed("report", *OCTOBER, *words, "--json", code=code))


def test_each_yard_has_the_figures_of_its_own_report(yards):
    found = told(yards["Tern"], yards["Wren"])
    for row in found["yards"]:
        alone = json.loads(call(yards[row["yard"]], "report", *OCTOBER, "--json"))
        assert row["taken_in_kg"] == alone["taken_in_all"]["kg"]
        assert (row["loads"], row["loads_without_amount"]) == (
            alone["taken_in_all"]["entries"], alone["taken_in_all"]["without_amount"],
        )  # fmt: skip
        assert (row["turnings"], row["days_counted"]) == (alone["turnings"], alone["days_counted"])
        assert row["days_without_entry"] == len(alone["days_without_entry"])
        assert row["methane_kg"] == (None if alone["methane"] is None else alone["methane"]["kg"])
    assert found["all_together"]["taken_in_kg"] == sum(row["taken_in_kg"] for row in found["yards"])
    assert (found["all_together"]["turnings"], found["all_together"]["yards_with_a_factor"]) == (1, 1)


def test_what_is_unknown_is_named_and_in_no_sum(yards):
    text = typed("report", *OCTOBER, *yards.values(), code=1)
    assert text.splitlines()[0] == "2 yards, October 2026"
    assert "1 load without an amount, in no sum: Wren 1." in text
    assert "1 watering without an amount, in no sum: Wren 1." in text
    assert "nobody knows how much" in next(line for line in text.splitlines() if line.startswith("  Wren"))
    (together,) = (line for line in text.splitlines() if line.startswith("  All together"))
    assert "at least" in together
    assert "No factor, so no figure: Tern." in text
    assert "Could not be read, and in no sum" in text
    assert f"  {yards['Rook']}: there is no journal in" in text
    found = told(*yards.values(), code=1)
    assert found["yards"][1]["water_litres"] is None
    assert (found["all_together"]["water_litres"], found["all_together"]["waterings_without_amount"]) == (None, 1)
    assert [one["yard"] for one in found["unread"]] == [str(yards["Rook"])]


def test_rows_travel_as_parquet(yards, tmp_path):
    pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")
    here = told(yards["Tern"], yards["Wren"])
    for name in ("Tern", "Wren"):
        call(yards[name], "report", *OCTOBER, "--parquet", tmp_path / f"{name}.parquet")
    rows = [tmp_path / f"{name}.parquet" for name in ("Tern", "Wren")]
    assert told(*rows) == here
    assert told(rows[0], yards["Wren"], "--workers", "2") == here
    typed("report", *OCTOBER, *rows, "--parquet", tmp_path / "both.parquet", "--csv", tmp_path / "both.csv")
    assert told(tmp_path / "both.parquet") == here
    table = list(csv.DictReader(io.StringIO((tmp_path / "both.csv").read_bytes().decode("utf-8-sig"))))
    assert [(row["yard"], row["from"], row["goes_on"]) for row in table] == [
        ("Tern", "2026-10-01", "no"), ("Wren", "2026-10-01", "no"),
    ]  # fmt: skip
    assert float(table[0]["taken_in_kg"]) == pytest.approx(here["yards"][0]["taken_in_kg"], abs=0.001)
    other = typed("report", "--month", "2026-09", rows[0], code=2)
    assert "None of these yards can be read." in other
    assert "It is of 2026-10-01 to 2026-10-31, not of 2026-09-01 to 2026-09-30." in other


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--workers", "2"), "--workers and --cluster are for many yards; name their folders."),
        (("here", "--config", "there"), "--config names one yard and YARDS many"),
        (("here", "--month", "May"), '--month: "May" is no month'),
        (("nowhere",), "None of these yards can be read."),
    ],
)
def test_what_makes_no_sense_is_refused(words, sentence):
    assert sentence in typed("report", *words, code=2)


def test_another_parquet_file_is_no_table_of_yards(yards, tmp_path):
    pa = pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")
    from pyarrow import parquet

    file = tmp_path / "x.parquet"
    parquet.write_table(pa.table({"a": [1]}), file)
    assert "is no table of yards; `report --parquet FILE` writes one." in typed("report", *OCTOBER, file, code=2)
    call(yards["Wren"], "report", *OCTOBER, "--parquet", file)
    whole = parquet.read_table(file)
    parquet.write_table(whole.set_column(whole.schema.get_field_index("loads"), "loads", [pa.array([-1])]), file)
    assert "line 1: its column loads says -1, which no report wrote." in typed("report", *OCTOBER, file, code=2)
    parquet.write_table(whole.replace_schema_metadata({"heaptender": '{"form": 2, "kind": "yards"}'}), file)
    assert "is of form 2, and this Heaptender reads form 1" in typed("report", *OCTOBER, file, code=2)
    file.write_bytes(file.read_bytes()[:-7])
    assert "is a damaged Parquet file; write it again" in typed("report", *OCTOBER, file, code=2)


grams = st.integers(0, 10**9)
few = st.integers(0, 500)


@st.composite
def knowns(draw, measured=grams):
    entries = draw(few)
    without = draw(st.integers(0, entries))
    amount = draw(grams) if entries > without else 0
    return Known(entries, amount, without, min(amount, draw(measured)))


rows_of_yards = st.builds(
    YardRow,
    yard=st.text(st.characters(codec="utf-8"), min_size=1, max_size=9),
    time_zone=st.sampled_from(["UTC", "Europe/Vienna"]),
    first=st.just(date(2026, 1, 1)),
    last=st.just(date(2026, 12, 31)),
    goes_on=st.booleans(),
    us=st.booleans(),
    taken_in=knowns(), fed=knowns(), harvested=knowns(), given_out=knowns(), people=few,
    water=knowns(measured=st.just(0)), met=few, void=few, turnings=few, unlooked=few, counted=few,
    methane_g=st.one_of(st.none(), grams),
)  # fmt: skip


@given(st.lists(rows_of_yards, min_size=1, max_size=4))
def test_a_row_reads_the_same_from_its_table(rows):
    pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")
    assert [row_of(flat(row)) for row in rows] == rows
    assert list(flat(rows[0])) == list(FLAT)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.parquet"
        with path.open("wb") as out:
            write_rows(rows, out)
        assert read_rows(path) == rows


@given(st.lists(rows_of_yards, min_size=1, max_size=4), st.randoms())
def test_the_order_of_yards_changes_no_sum(rows, random):
    there = all_yards([*rows, Unread("x", "y")])
    random.shuffle(rows)
    again = all_yards(rows)
    for name in ("taken_in", "water", "people", "unlooked", "methane_g", "us", "goes_on"):
        assert getattr(there.together, name) == getattr(again.together, name)
    assert there.together.taken_in.amount == sum(row.taken_in.amount for row in rows)
    assert there.factors == sum(row.methane_g is not None for row in rows)
    with pytest.raises(ValueError, match="no yard could be read"):
        all_yards([Unread("x", "y")])


def test_without_the_extra_nothing_is_written(yards, monkeypatch, tmp_path):
    monkeypatch.setattr("monitor.recordings.parquet_files.find_spec", lambda name: None)
    told = call(yards["Tern"], "report", *OCTOBER, "--parquet", tmp_path / "x.parquet", code=2)
    assert told == "Parquet files need the extra `fleet`: pip install 'heaptender[fleet]'.\n"
    assert not (tmp_path / "x.parquet").exists()
    with pytest.raises(MisuseError, match="Parquet files need"):
        write_rows([], io.BytesIO())
