"""Putting the record right, taking recordings in twice, and asking where a daemon ends before it answers."""

import csv
import io
import json
import threading
import time
from pathlib import Path

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.app.loop.asking import ask, asking
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import open_reader, open_writer, verify_chain
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.proof.rules import rule_ids

yard = yard_of(ENTRIES)


@pytest.fixture
def configuration(yard):
    return load(yard / "heaptender.toml", {}, rules=rule_ids())


def kinds(yard):
    with open_reader(yard / "data") as store:
        return [event.kind for event in store.events()]


def test_the_newest_entry_is_put_right_and_then_taken_back(yard):
    call(yard, "log", "watered", "p1", "--amount", "40", "--measure", "L", "--by", "Ann")
    assert "1 put right: Bay 1 watered 30 L" in call(yard, "log", "correct", "p1", "--amount", "30")
    assert "30,L,Ann" in call(yard, "export", "work")
    call(yard, "log", "undo", "p1")
    assert len(call(yard, "export", "work").splitlines()) == 1, "nothing but the header is left"
    with open_reader(yard / "data") as store:
        assert [e.kind for e in store.events() if e.kind is EventKind.CORRECTION] == [EventKind.CORRECTION] * 2
        verify_chain(store)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["undo", "p2"], 'nothing is written down for "p2"'),
        (["correct", "1"], "Nothing about it would change"),
        (
            ["undo", "p1", "2026-01-01T00:00:00Z"],
            'there is no entry of "p1" at that time; the newest is 1: Bay 1 turned',
        ),
        (["watered", "p1", "--to", "p2"], '--to does not go with "watered"'),
        (["watered", "p1", "--amount", "plenty"], '"plenty" is no amount; write a number and a unit'),
        (["reading", "p1", "900", "degF"], "Is the unit right?"),
        (["seen", "b1/overheating"], "no alarm is open"),
    ],
)
def test_what_cannot_be_meant_is_told_and_changes_nothing(yard, words, sentence):
    call(yard, "log", "turned", "p1")
    before = kinds(yard)
    assert sentence in call(yard, "log", *words, code=2)
    assert kinds(yard) == before


def test_an_entry_cannot_be_taken_back_twice(yard):
    call(yard, "log", "turned", "p1")
    call(yard, "log", "undo", "p1")
    assert 'all that was written down for "p1" is taken back already' in call(yard, "log", "undo", "p1", code=2)


def test_a_reading_by_hand_is_taken_back_and_stays_in_the_record_flagged(yard):
    call(yard, "log", "turned", "p1")
    told = call(yard, "log", "reading", "p1", "131", "degF", "--at", "20 min ago")
    key = told.split("heaptender log undo ")[1].split(".)")[0]
    assert "2 taken back: Bay 1 131 °F by hand" in call(yard, "log", "undo", "p1")
    rows = [row for row in csv.DictReader(io.StringIO(call(yard, "export", "readings"))) if row["probe"] == "hand:p1"]
    assert [row["quality"] for row in rows] == ["4"]
    with open_reader(yard / "data") as store:
        assert [kept.reason.value for kept in store.flags("hand:p1")] == ["withdrawn"]
        verify_chain(store)
    assert "Entry 2 is taken back already" in call(yard, "log", "undo", key, code=2)
    call(yard, "log", "undo", "p1")
    assert len(call(yard, "export", "work").splitlines()) == 1, "now the turning was the newest"


def test_an_import_says_what_was_new_there_already_and_in_conflict(yard):
    head = "time,probe,quantity,value,unit\n"
    (yard / "one.csv").write_text(head + "2026-03-01T00:00:00Z,p1-a,temperature,50,Cel\n")
    (yard / "two.csv").write_text(
        head
        + "2026-03-01T00:00:00Z,p1-a,temperature,51,Cel\n2026-03-01T01:00:00Z,p1-a,temperature,52,Cel\n"
        + "1999-03-01T01:00:00Z,p1-a,temperature,52,Cel\n2026-03-01T02:00:00Z,p1-a,temperature,52,V\n"
    )
    (yard / "work.csv").write_text("time,place,kind\n2026-03-01T00:30:00Z,p1,turned\n")
    assert "Taken in: 1 reading and 0 pieces of work." in call(yard, "import", str(yard / "one.csv"))
    told = call(yard, "import", str(yard / "two.csv"), "--work", str(yard / "work.csv"))
    assert "Taken in: 1 reading and 1 piece of work." in told
    assert "Set beside another value of the same instant: 1 reading." in told
    assert "Wrong and left out: 2 rows." in told
    assert "before the year 2000" in told
    again = call(yard, "import", str(yard / "two.csv"), "--work", str(yard / "work.csv"), "--json")
    values = json.loads(next(line for line in again.splitlines() if line.startswith("{")))
    assert (values["new"], values["repeated"], values["work"], values["work_repeated"]) == (0, 1, 0, 1)


def test_a_session_records_one_start_and_one_end(yard, configuration):
    with asking(configuration) as session:
        for amount in ("1", "2", "3"):
            payload = {"time": 1_780_000_000_000, "place": "b1", "kind": "fed", "amount": amount}
            session.ask(EventKind.WORK, payload, again=True)
    assert kinds(yard) == [EventKind.STARTED, EventKind.SETTINGS, *[EventKind.WORK] * 3, EventKind.STOPPED]


def test_what_the_settings_refuse_is_told_before_anything_is_recorded(yard, configuration):
    with pytest.raises(MisuseError, match="p9"):
        ask(configuration, EventKind.WORK, {"time": 1_780_000_000_000, "place": "p9", "kind": "turned"})
    assert not (yard / "data").exists()


def test_a_daemon_that_ends_before_it_answers_is_replaced(yard, configuration):
    (yard / "data").mkdir()
    writer = open_writer(yard / "data", Engine, Engine.restore)
    taken = []
    payload = {"time": 1_780_000_000_000, "place": "p1", "kind": "turned"}
    asker = threading.Thread(target=lambda: taken.append(ask(configuration, EventKind.WORK, payload, again=True)))
    asker.start()
    try:
        until = time.monotonic() + 20
        while not writer.requests.waiting(1) and time.monotonic() < until:
            time.sleep(0.01)
    finally:
        writer.close()
        asker.join(30)
    assert [one.by_daemon for one in taken] == [False]
    assert kinds(yard).count(EventKind.WORK) == 1


def test_what_is_no_ordinary_file_is_never_replaced(yard):
    call(yard, "log", "turned", "p1")
    (yard / "folder").mkdir()
    for out in ("/dev/null", str(yard / "folder")):
        assert "is no ordinary file" in call(yard, "export", "work", "--out", out, code=2)
    assert not Path("/dev/null").is_file()
    assert (yard / "folder").is_dir()


def test_what_was_written_down_cannot_command_a_terminal(yard):
    """A note may come from anybody's spreadsheet."""
    told = call(yard, "log", "note", "p1", "--note", "clear\x1b[2J\nall", "--by", "Ann\x07")
    told += call(yard, "log", "list")
    assert "clear\\x1b[2J" in told
    assert not [sign for sign in told if not sign.isprintable() and sign != "\n"]
    assert len(call(yard, "log", "list").splitlines()) == 1
