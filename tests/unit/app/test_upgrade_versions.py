"""A journal of each earlier version of the tables, written by the program of its day, is taken over by today's.

In `tests/unit/journal/` lie the journals, what is true of them, and how they were made. Version 1 is `journal_before`, of which
`test_upgrade.py` asks more. No version but that one was decided by another meaning of the engine, so no other is sealed.
"""

import gzip
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from test_upgrade import HOUR, MIN, sha, start

from monitor.app.command import heaptender
from monitor.engine import Engine
from monitor.journal import audit, journal_path, open_reader, open_writer, restore, verify_chain
from monitor.journal.schema import MIGRATIONS
from monitor.model.errors import UnavailableError
from monitor.model.readings import Reading
from monitor.recordings import effect_line, event_line

KEPT = Path(__file__).parents[1] / "journal"
EARLIER = {1: "journal_before", **{version: f"journal_{version}" for version in range(2, len(MIGRATIONS))}}
"""Version of the tables -> the journal that a program of that version wrote. A new migration asks for a further one."""


def unpacked(version):
    return gzip.decompress((KEPT / f"{EARLIER[version]}.sqlite.gz").read_bytes())


def all_of(folder):
    """What the folder holds, without SQLite's index of the log, which holds nothing that is kept."""
    log = journal_path(folder).with_name("journal.db-wal")
    return journal_path(folder).read_bytes(), log.read_bytes() if log.exists() else b""


class Older(Engine):
    """Today's engine, as that of a program of which no journal with a number of its meaning was written."""

    meaning = Engine.meaning - 1


@pytest.fixture(params=EARLIER)
def yard(request, tmp_path):
    journal_path(tmp_path).write_bytes(unpacked(request.param))
    return tmp_path, json.loads((KEPT / f"{EARLIER[request.param]}.json").read_text())


@pytest.mark.parametrize("version", EARLIER)
def test_each_kept_journal_is_of_its_version(version, tmp_path):
    file = tmp_path / "journal.db"
    file.write_bytes(unpacked(version))
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (version,)
        assert connection.execute("SELECT version, name FROM migration ORDER BY version").fetchall() == [
            (number, name) for number, (name, _) in enumerate(MIGRATIONS[:version], 1)
        ]


@pytest.mark.parametrize("yard", list(EARLIER)[1:], indirect=True)
def test_the_record_is_taken_over_to_the_byte_and_the_yard_goes_on(yard):
    folder, facts = yard
    later = facts["mark"] + 3 * HOUR
    with open_writer(folder, Engine, Engine.restore) as writer:
        assert (writer.resumed.differences, writer.resumed.faults) == ([], [])
        start(writer, later)
        for n in range(12):
            at = later + MIN + n * HOUR
            with writer.turn(at) as turn:
                turn.readings(
                    [Reading(at, "p1-a", 58_000_000 + n * 1000, "Cel"), Reading(at, "b1-t", 36_000_000, "Cel")]
                )
                turn.advance(at)
        store = writer.store
        events = [event_line(one) for one in store.events(until=facts["mark"])]
        effects = [effect_line(one) for one in store.effects(until=facts["mark"])]
        assert (len(events), sha(events)) == (facts["events"], facts["events_sha256"])
        assert (len(effects), sha(effects)) == (facts["effects"], facts["effects_sha256"])
        assert facts["head"] in [link.head.hex() for link in store.chain()]
        assert [one for one in verify_chain(store) if one.is_fault()] == []
        assert {batch: run.built for batch, run in writer.engine.state.runs.items()} == facts["built"]
        assert any("overheating" in effect_line(one) for one in store.effects(after=later))
        writer._stale = True  # as a kill leaves it
    with open_writer(folder, Engine, Engine.restore) as writer:
        assert writer.resumed.differences == []


def test_a_backup_of_it_can_be_put_back(yard, tmp_path):
    folder, facts = yard
    copy, home = tmp_path / "copy.sqlite", tmp_path / "home"
    journal_path(folder).rename(copy)
    before = copy.read_bytes()
    home.mkdir()
    done = restore(home, copy, facts["mark"] + HOUR, lambda *_: None)
    assert [one for one in done.findings if one.is_fault()] == []
    assert copy.read_bytes() == before
    with open_reader(home) as store:
        assert sum(1 for _ in store.readings(store.probes(), 0, 1 << 60)) == facts["readings"]
        assert [one for one in audit(store) if one.is_fault()] == []


def checked(folder):
    (folder / "heaptender.toml").write_text('[site]\ntime_zone = "UTC"\ntemperature_unit = "degC"\ndata = "."\n')
    run = CliRunner().invoke(heaptender, ["check", "--json", "--config", str(folder / "heaptender.toml")])
    return next(one for one in json.loads(run.stdout)["connections"] if one["what"] == "journal")


@pytest.mark.parametrize("yard", [4], indirect=True)
def test_a_check_before_the_first_start_says_that_the_start_takes_it_over_and_changes_nothing(yard):
    before = all_of(yard[0])
    found = checked(yard[0])
    assert (found["ok"], found["warning"]) == (True, True)
    assert found["words"].endswith("of an older version; copy it first, the next start of the daemon takes it over")
    assert all_of(yard[0]) == before


def test_a_program_that_is_older_than_the_record_refuses_it_and_changes_nothing(tmp_path, monkeypatch):
    with open_writer(tmp_path, Engine, Engine.restore) as writer:
        start(writer, 1_800_000_000_000)
    before = all_of(tmp_path)
    # Its tables are known, but not what its decisions mean.
    with pytest.raises(UnavailableError, match=f"newer version .decided by meaning {Engine.meaning}, .*: update first"):
        open_writer(tmp_path, Older, Older.restore)
    monkeypatch.setattr(Engine, "meaning", Older.meaning)
    assert "newer version (decided by meaning" in checked(tmp_path)["words"]
    monkeypatch.setattr("monitor.journal.schema.MIGRATIONS", MIGRATIONS[:-1])
    assert "newer version (tables" in checked(tmp_path)["words"]
    for opens in (lambda folder: open_writer(folder, Engine, Engine.restore), open_reader):
        with pytest.raises(UnavailableError, match=f"newer version .tables {len(MIGRATIONS)}, .*: update first"):
            opens(tmp_path)
    assert all_of(tmp_path) == before
