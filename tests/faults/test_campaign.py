"""A short round of the campaign with real processes; each of its checks can fail, and a failed round can be had again."""

import shutil
import sqlite3
from types import SimpleNamespace

import pytest

from monitor.journal import open_reader
from tests.faults.campaign import judging, run
from tests.faults.campaign.kinds import KINDS
from tests.faults.campaign.rounds import Round, play
from tests.faults.campaign.storage import Storage
from tests.faults.campaign.tap import packets, published
from tests.faults.checks import check_entries, check_mirror, check_readings, check_sound
from tests.faults.counts import Counts
from tests.faults.ledger import Broken

pytestmark = [pytest.mark.io, pytest.mark.timeout(180), pytest.mark.filterwarnings("ignore::ResourceWarning")]


def mirrored(store, r):
    check_mirror(store, r.mirror, r.counts, lately_ms=9_000)


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """A round that went well, and whose parts have ended."""
    from brokers import program

    program("mosquitto")
    kinds = ("killed at work", "killed delivering", "acknowledgements lost")
    return play(11, tmp_path_factory.mktemp("campaign") / "round", kinds=kinds, own_disk=False)


def test_all_that_must_hold_does_with_real_processes(played):
    did = played.counts.of
    assert did["kills"] >= 1
    assert did["messages delivered again"] > 0
    assert did["readings checked"] > 100
    assert did["notice rows checked"] > 0
    assert did["points that the mirror's server took"] > 0
    assert did["replays from the start"] == 1
    assert did["last alarms that were told once"] == 1


@pytest.mark.parametrize(
    ("statement", "check"),
    [
        ("DELETE FROM reading", lambda store, r: check_readings(store, r.books, r.counts)),
        ("UPDATE reading SET micro = micro + 1", lambda store, r: check_readings(store, r.books, r.counts)),
        ("UPDATE event SET payload = replace(payload, 'up', 'uq')", lambda store, r: check_sound(store)),
        ("DELETE FROM event WHERE kind = 'work'", lambda store, r: check_entries(store, r.books)),
        ("DELETE FROM outbox", judging.check_letters),
        ("UPDATE outbox SET state = 'waiting'", judging.check_letters),
        ("UPDATE outbox SET text = 'All is well.'", judging.check_letters),
        ("UPDATE outbox SET notice = 'zzzzz'", judging.check_letters),
        ("UPDATE reading SET time = time + 90000000000", mirrored),
    ],
)  # fmt: skip
def test_each_check_of_the_record_can_fail(played, tmp_path, statement, check):
    shutil.copytree(played.storage.folder, tmp_path / "data")
    with open_reader(tmp_path / "data") as store:
        check(store, played)
    with sqlite3.connect(tmp_path / "data" / "journal.db") as copy:
        copy.execute(statement)
    with open_reader(tmp_path / "data") as store, pytest.raises(Broken):
        check(store, played)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"got": {}}, "never got it"),
        ({"disorderly": [("wire", "7kq2m", "Fire", "")]}, "did not say so"),
    ],
)
def test_a_letter_that_lacks_or_comes_again_unmarked_is_found(played, change, says):
    values = {"got": played.books.got, "disorderly": []} | change
    spoilt = SimpleNamespace(**{**vars(played), "books": SimpleNamespace(**values), "lied": True})
    with open_reader(played.storage.folder) as store, pytest.raises(Broken, match=says):
        judging.check_letters(store, spoilt)


def test_a_letter_that_no_record_knows_is_found(played):
    got = {**played.books.got, ("wire", "zzzzz"): [("Fire [zzzzz]", "Fire")]}
    spoilt = SimpleNamespace(**{**vars(played), "books": SimpleNamespace(got=got, disorderly=[])})
    with open_reader(played.storage.folder) as store, pytest.raises(Broken, match="does not know"):
        judging.check_letters(store, spoilt)


@pytest.mark.parametrize("many", [0, 2])
def test_the_last_alarm_is_told_just_once(many):
    letters = [("7kq2m", "Shady bin: WORMS IN DANGER", "")] * many
    books = SimpleNamespace(came_by=lambda _channel: letters)
    r = SimpleNamespace(books=books, counts=Counts(), outage_to_tell=False)
    with pytest.raises(Broken, match=f"{many} times"):
        judging.check_told(r)


def test_an_outage_of_which_nobody_hears_is_found():
    books = SimpleNamespace(came_by=lambda _channel: [("7kq2m", "Shady bin: WORMS IN DANGER", "")])
    r = SimpleNamespace(books=books, counts=Counts(), outage_to_tell=True, told=lambda _words: False)
    with pytest.raises(Broken, match="nobody was told"):
        judging.check_told(r)


def test_an_outage_that_is_told_at_every_start_is_found():
    letters = [("7kq2m", "Shady bin: WORMS IN DANGER", "")]
    letters += [(f"{number}kq2m", "Tern Hollow: nothing is stored", "") for number in range(3)]
    counts = Counts()
    counts.note("disks that came back read-only")
    counts.note("kills")
    r = SimpleNamespace(books=SimpleNamespace(came_by=lambda _channel: letters), counts=counts, outage_to_tell=False)
    with pytest.raises(Broken, match="1 outages people heard 3 times"):
        judging.check_told(r)


@pytest.mark.parametrize("line", ["This program is at fault: it", "Traceback (most", "effect 17/2 was decided as"])
def test_a_log_that_names_a_fault_is_found(line):
    daemon = SimpleNamespace(whole_log=lambda: f"ERROR {line}\n")
    with pytest.raises(Broken):
        judging.check_log(SimpleNamespace(daemon=daemon, has_restored=False, lied=False))


def test_a_failed_round_is_named_with_the_command_that_plays_it_again(monkeypatch, capsys):
    def breaks(seed, folder, *, kinds):
        raise Broken("two readings")

    monkeypatch.setattr(run, "play", breaks)
    assert not run.campaign(40, rounds=2, kinds=("power cut",))
    said = capsys.readouterr().out
    assert 'again: python -m tests.faults campaign --seed 41 --kind "power cut"\n' in said
    assert "2 rounds" in said
    assert "2 failed [40, 41]" in said


def test_a_seed_draws_the_same_kinds_again(tmp_path, monkeypatch):
    monkeypatch.setattr(Round, "_build", lambda self, _own: None)
    drawn = [Round(seed, tmp_path).kinds for seed in (*range(200), *range(200))]
    assert drawn[:200] == drawn[200:]
    assert {kind for kinds in drawn for kind in kinds} == set(KINDS)


def test_packets_are_found_however_they_come_in_pieces():
    publish = bytes([0x3A, 0]) + b"\x00\x01t" + b"\x01\x02" + b"\x02\x26\x07" + b"x" * 300
    length = len(publish) - 2
    whole = bytes([0x3A, length % 128 | 0x80, length // 128]) + publish[2:]
    stream = whole + b"\x40\x02\x01\x02" + whole
    for size in (1, 2, 7, 1000):
        pieces = [stream[at : at + size] for at in range(0, len(stream), size)] + [b""]
        found = list(packets(SimpleNamespace(recv=lambda _most, pieces=pieces: pieces.pop(0))))
        assert b"".join(packet for packet, _ in found) == stream
        assert published(*found[0]) == (0x0102, b"x" * 300)
        assert found[1] == (b"\x40\x02\x01\x02", 2)


@pytest.mark.parametrize("lied", [False, True])
def test_a_power_cut_keeps_what_was_committed_and_a_disk_that_lied_may_not(tmp_path, lied):
    import random

    lost = 0
    for seed in range(30):
        data = tmp_path / f"live-{seed}"
        storage = Storage(tmp_path / f"cut-{seed}", random.Random(seed), Counts(), own=False)
        data.mkdir()
        connection = sqlite3.connect(data / "journal.db", isolation_level=None)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE kept (n INTEGER)")
        for number in range(20):
            connection.execute("INSERT INTO kept VALUES (?)", (number,))
        shutil.copytree(data, storage.folder, dirs_exist_ok=True)
        connection.close()
        storage.cut(lied=lied)
        with sqlite3.connect(storage.folder / "journal.db") as copy:
            there = copy.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'kept'").fetchone()[0]
            lost += 20 - (copy.execute("SELECT count(*) FROM kept").fetchone()[0] if there else 0)
    assert (lost > 0) == lied
