"""Readings and work leave the record as Parquet and come in again, like CSV."""

import json
import shutil

import pytest
from typed_command import ENTRIES, call, yard_of

pytest.importorskip("pyarrow", reason="the extra `fleet` is not installed")

yard = yard_of(ENTRIES)


@pytest.fixture
def filled(yard):
    lines = ["time,probe,quantity,value,unit"]
    lines += [f"2026-03-0{day}T{hour:02d}:00:00Z,p1-a,temperature,{30 + hour * 1.5},Cel"
              for day in (1, 2, 3) for hour in range(24)]  # fmt: skip
    (yard / "r.csv").write_text("\n".join(lines))
    call(yard, "import", yard / "r.csv")
    call(yard, "log", "reading", "p1", "131", "degF", "--at", "30 min ago")
    call(yard, "log", "turned", "p1", "--at", "20 min ago", "--note", "=steaming")
    return yard


def test_an_export_as_parquet_is_the_export_as_csv(filled, tmp_path):
    said = json.loads(call(filled, "export", "readings", "--out", filled / "r.parquet", "--json"))
    assert (said["kind"], said["rows"], said["faults"]) == ("readings", 73, [])
    call(filled, "export", "work", "--out", filled / "w.parquet")
    other = tmp_path / "other"
    other.mkdir()
    shutil.copy(filled / "heaptender.toml", other)
    told = call(other, "import", filled / "r.parquet", filled / "w.parquet", "--again")
    assert "Taken in: 73 readings and 1 piece of work." in told
    # When a row was received, and what was thought of it, is each record's own.
    without = lambda text: [line.split(",")[:5] + line.split(",")[7:] for line in text.splitlines()]  # noqa: E731
    assert without(call(other, "export", "readings")) == without(call(filled, "export", "readings"))
    assert call(other, "export", "work").split(",")[4:] == call(filled, "export", "work").split(",")[4:]


def test_a_replay_of_parquet_decides_as_one_of_csv(filled):
    call(filled, "export", "readings", "--place", "p1", "--out", filled / "again.csv")
    call(filled, "export", "readings", "--place", "p1", "--out", filled / "again.parquet")
    effects = call(filled, "replay", filled / "again.csv", "--json")
    assert effects.count('"kind":"phase"') > 1
    assert call(filled, "replay", filled / "again.parquet", "--json") == effects


@pytest.mark.parametrize("kind", ["events", "effects", "notices"])
def test_what_is_no_table_is_not_written_as_parquet(filled, kind):
    told = call(filled, "export", kind, "--out", filled / "x.parquet", code=2)
    assert told == f"{kind} are JSON lines; only readings and work can be Parquet. Name a file such as {kind}.jsonl.\n"
    assert not (filled / "x.parquet").exists()


def test_without_the_extra_nothing_is_written(filled, monkeypatch):
    monkeypatch.setattr("monitor.recordings.parquet_files.find_spec", lambda name: None)
    told = call(filled, "export", "work", "--out", filled / "x.parquet", code=2)
    assert told == "Parquet files need the extra `fleet`: pip install 'heaptender[fleet]'.\n"
    assert not (filled / "x.parquet").exists()
