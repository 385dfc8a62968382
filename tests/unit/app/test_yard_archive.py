"""A yard packed into one file and put in place elsewhere: whole, checked, and never over anything that is there."""

import json
import random
import stat
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.app.upkeep import yard_archive
from monitor.app.upkeep.yard_archive import MANIFEST, unpack
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import WriterLock, open_reader, open_writer
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.readings import Reading

T0 = 1_793_577_600_000
MIN = 60_000
CONFIG = """
[site]
name = "Tern Hollow allotments"
time_zone = "UTC"
temperature_unit = "degC"
data = "{data}"
[bins.b1]
[probes.b1-t]
place = "b1"
[mqtt]
host = "127.0.0.1"
username = "yard"
password_file = "secrets/broker"
[backup]
folder = "data/copies"
[page]
password_file = "{page}"
"""
DOCUMENT = (Path(__file__).parents[3] / "docs" / "running.md").read_text()


def run(*words):
    done = CliRunner().invoke(heaptender, [str(word) for word in words], standalone_mode=False)
    fault = done.exception
    return (done.return_value, done.output) if fault is None else (fault, str(fault))


@pytest.fixture
def yard(tmp_path):
    """A yard of its own: three readings, labels, a signing key, a password beside it and another elsewhere."""
    home, far = tmp_path / "old", tmp_path / "etc"
    for folder in (home / "secrets", home / "data" / "keys", home / "data" / "copies", far):
        folder.mkdir(parents=True)
    (home / "heaptender.toml").write_text(CONFIG.format(data="data", page=far / "page"))
    (home / "secrets" / "broker").write_text("three blind mice\n")
    (far / "page").write_text("correct horse battery\n")
    (home / "data" / "labels.csv").write_text("labels\n")
    (home / "data" / "keys" / "signing.pem").write_text("key\n")
    (home / "data" / "copies" / "journal-20260301T090000Z.sqlite").write_text("an older copy\n")
    (home / "data" / "half.part").write_text("half\n")
    with open_writer(home / "data", Engine, Engine.restore) as writer:
        for n in range(3):
            with writer.turn(T0 + n * MIN) as turn:
                turn.readings([Reading(T0 + n * MIN, "b1-t", 20_000_000 + n, "Cel")])
    return home


@pytest.fixture
def packed(yard, tmp_path):
    code, said = run("pack", tmp_path / "yard.yard", "--config", yard / "heaptender.toml")
    assert code == 0, said
    return tmp_path / "yard.yard"


def values(data):
    with open_reader(data) as store:
        return [(row.time, row.micro) for row in store.readings(store.probes(), 0, 1 << 60)]


def test_everything_of_the_yard_arrives_and_the_program_runs_on_it(yard, packed, tmp_path):
    new = tmp_path / "new" / "yard"
    code, said = run("unpack", packed, new)
    assert code == 0, said
    assert values(new / "data") == values(yard / "data") == [(T0 + n * MIN, 20_000_000 + n) for n in range(3)]
    for name in ("heaptender.toml", "secrets/broker", "data/labels.csv", "data/keys/signing.pem"):
        assert (new / name).read_bytes() == (yard / name).read_bytes()
        assert stat.S_IMODE((new / name).stat().st_mode) == 0o600
    assert not (new / "data" / "copies").exists(), "backups stay: the record travels itself"
    assert not (new / "data" / "half.part").exists()
    assert load(new / "heaptender.toml", {}, rules=set()).settings.site.name == "Tern Hollow allotments"
    assert "its record was checked, and ends" in said
    assert f"Start it: heaptender run --config {new / 'heaptender.toml'}" in said


def test_a_file_that_lies_elsewhere_travels_and_is_told(packed, tmp_path):
    new = tmp_path / "new"
    code, said = run("unpack", packed, new)
    assert code == 0
    lies = next((new / "elsewhere").iterdir())
    assert lies.read_text() == "correct horse battery\n"
    assert f"{lies} belongs to {tmp_path / 'etc' / 'page'}: put it there, or change the configuration." in said


def test_a_configuration_that_cannot_be_used_here_is_told_with_all_else_in_place(packed, tmp_path):
    (tmp_path / "etc" / "page").unlink()
    code, said = run("unpack", packed, tmp_path / "new")
    assert code == 1
    assert "The configuration cannot be used here yet:" in said
    assert len(values(tmp_path / "new" / "data")) == 3


def test_the_packed_file_is_for_its_owner_alone(packed):
    assert stat.S_IMODE(packed.stat().st_mode) == 0o600
    assert list(packed.parent.glob("heaptender-pack-*")) == []


def test_a_yard_is_not_packed_while_its_daemon_runs(yard, tmp_path):
    lock = WriterLock(yard / "data")
    fault, said = run("pack", tmp_path / "yard.yard", "--config", yard / "heaptender.toml")
    lock.release()
    assert isinstance(fault, UnavailableError)
    assert said.startswith("The daemon runs (process ")
    assert not (tmp_path / "yard.yard").exists()


def test_a_yard_is_not_packed_into_itself(yard):
    assert isinstance(run("pack", yard / "data" / "y.yard", "--config", yard / "heaptender.toml")[0], MisuseError)


def test_nothing_that_is_there_is_touched(packed, tmp_path):
    new = tmp_path / "new"
    new.mkdir()
    (new / ".profile").write_text("mine\n")
    fault, said = run("unpack", packed, new)
    assert isinstance(fault, MisuseError)
    assert said == f"{new} is not empty; name a new or an empty folder."
    assert sorted(path.name for path in new.iterdir()) == [".profile"]


def test_the_file_itself_may_lie_in_the_folder(packed, tmp_path):
    new = tmp_path / "new"
    new.mkdir()
    here = packed.rename(new / "yard.yard")
    assert run("unpack", here, new)[0] == 0
    assert len(values(new / "data")) == 3


def test_a_data_folder_elsewhere_goes_to_its_place_if_that_is_empty(yard, tmp_path):
    away = tmp_path / "var"
    (yard / "data").rename(away)
    text = CONFIG.format(data=away, page=tmp_path / "etc" / "page").replace("data/copies", str(away / "copies"))
    (yard / "heaptender.toml").write_text(text)
    assert run("pack", tmp_path / "y.yard", "--config", yard / "heaptender.toml")[0] == 0
    assert isinstance(run("unpack", tmp_path / "y.yard", tmp_path / "new")[0], MisuseError), "the old one lies there"
    away.rename(tmp_path / "aside")
    assert run("unpack", tmp_path / "y.yard", tmp_path / "new")[0] == 0
    assert values(away) == values(tmp_path / "aside")


def test_a_changed_byte_is_never_put_in_place(packed, tmp_path):
    whole, chance = packed.read_bytes(), random.Random(5)
    wanted = {path: path.read_bytes() for path in sorted((tmp_path / "old").rglob("*")) if path.is_file()}
    refused = 0
    for n in range(120):
        changed = bytearray(whole)
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
        packed.write_bytes(changed)
        new = tmp_path / f"new{n}"
        try:
            unpack(packed, new)
        except (MisuseError, UnavailableError):
            refused += 1
            assert not new.exists() or list(new.iterdir()) == []
            continue
        # The flip hit a byte that means nothing, such as a file's date: then all that arrives is what was packed.
        assert (new / "data" / "labels.csv").read_bytes() == wanted[tmp_path / "old" / "data" / "labels.csv"]
        assert len(values(new / "data")) == 3
    assert refused >= 80


@pytest.mark.parametrize("kept", [0, 1, 100, 0.5, 0.99])
def test_a_file_that_broke_off_is_refused(packed, tmp_path, kept):
    whole = packed.read_bytes()
    packed.write_bytes(whole[: kept if isinstance(kept, int) else int(len(whole) * kept)])
    fault, said = run("unpack", packed, tmp_path / "new")
    assert isinstance(fault, MisuseError)
    assert "is no packed yard, or broke off" in said


def hostile(packed, path, change):
    """Rewrite a packed yard with another manifest."""
    with zipfile.ZipFile(packed) as old:
        manifest = json.loads(old.read(MANIFEST))
        change(manifest)
        with zipfile.ZipFile(path, "w") as new:
            for one in old.namelist():
                if one != MANIFEST:
                    new.writestr(one, old.read(one))
            new.writestr("../../out", "out")
            new.writestr(MANIFEST, json.dumps(manifest))
    return path


def _first(**values):
    return lambda manifest: manifest["files"][0].update(values)


@pytest.mark.parametrize(
    "change",
    [
        _first(name="../../out"), _first(name="/out"), _first(name="site/../../out"), _first(name="out"),
        _first(name="other/out"), _first(name="site"), _first(name=3), _first(size="3"), _first(sha256=None),
        _first(path=7), lambda manifest: manifest.update(data="../out"), lambda manifest: manifest.update(data=3),
        lambda manifest: manifest.update(format="another"), lambda manifest: manifest.update(files=3),
        lambda manifest: manifest.update(configuration="other.toml"), lambda manifest: manifest.clear(),
        lambda manifest: manifest["files"].append(manifest["files"][0]),
    ],
)  # fmt: skip
def test_a_manifest_that_leads_elsewhere_or_is_rubbish_is_refused(packed, tmp_path, change):
    made = hostile(packed, tmp_path / "hostile.yard", change)
    fault, _ = run("unpack", made, tmp_path / "new" / "deep")
    assert isinstance(fault, MisuseError)
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("change", [_first(size=1), _first(size=10**12), _first(sha256="0" * 64)])
def test_a_file_that_is_not_what_the_manifest_says_is_refused(packed, tmp_path, change):
    made = hostile(packed, tmp_path / "hostile.yard", change)
    fault, said = run("unpack", made, tmp_path / "new")
    assert isinstance(fault, UnavailableError)
    assert "is not what was packed; nothing was changed" in said
    assert list((tmp_path / "new").iterdir()) == []


def test_a_damaged_record_is_not_packed(yard, tmp_path):
    journal = yard / "data" / "journal.db"
    journal.write_bytes(journal.read_bytes()[:5000] + b"\x00" * 4000 + journal.read_bytes()[9000:])
    fault, _ = run("pack", tmp_path / "y.yard", "--config", yard / "heaptender.toml")
    assert isinstance(fault, UnavailableError)
    assert not (tmp_path / "y.yard").exists()


def test_a_failure_on_the_way_leaves_nothing_behind(packed, tmp_path, monkeypatch):
    def fail(*_):
        raise UnavailableError("the disk is full")

    monkeypatch.setattr(yard_archive, "restore", fail)
    assert isinstance(run("unpack", packed, tmp_path / "new")[0], UnavailableError)
    assert [path for path in (tmp_path / "new").rglob("*") if path.is_file()] == []


def test_a_yard_without_a_record_moves_too(yard, tmp_path):
    for path in (yard / "data").glob("journal.db*"):
        path.unlink()
    assert run("pack", tmp_path / "y.yard", "--config", yard / "heaptender.toml")[0] == 0
    code, said = run("unpack", tmp_path / "y.yard", tmp_path / "new")
    assert code == 0
    assert "its record is empty" in said


def test_programs_get_the_same_as_json(packed, tmp_path):
    code, said = run("unpack", packed, tmp_path / "new", "--json")
    values_there = json.loads(said)
    assert code == 0
    assert values_there["site"] == "Tern Hollow allotments"
    assert values_there["until"] == "2026-11-01T22:42:00.000Z" or values_there["until"].startswith("2026-")
    assert values_there["trouble"] == ""


def test_the_document_names_both_commands():
    assert "heaptender pack /var/tmp/tern-hollow.yard" in DOCUMENT
    assert "heaptender unpack /var/tmp/tern-hollow.yard" in DOCUMENT


@pytest.mark.parametrize(
    "change",
    [
        _first(name="site//tmp/out"), _first(name="site/./out"), _first(name="data/out/"), _first(name="data/\ud800"),
        _first(name="data/\0"), lambda manifest: manifest.update(data="da\0ta"),
        lambda manifest: manifest.update(data="\ud800"),
    ],
)  # fmt: skip
def test_a_name_that_is_not_in_its_plain_form_is_refused(packed, tmp_path, change):
    """Found for a law of its fuzzer: what stood behind `site//` was taken for a path from the root, and written there."""
    made = hostile(packed, tmp_path / "hostile.yard", change)
    fault, _ = run("unpack", made, tmp_path / "new")
    assert isinstance(fault, MisuseError)
    assert not (tmp_path / "new").exists()


def test_a_record_that_is_refused_leaves_nothing_behind_so_that_another_try_finds_empty_folders(packed, tmp_path):
    """Found by fuzzing: the lock of the data folder stayed, and with it a folder that was no longer empty."""
    import hashlib

    made = tmp_path / "rotten.yard"
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(made, "w") as new:
        manifest = json.loads(old.read(MANIFEST))
        for one in manifest["files"]:
            content = b"no record" if one["name"] == "data/journal.db" else old.read(one["name"])
            one.update(size=len(content), sha256=hashlib.sha256(content).hexdigest())
            new.writestr(one["name"], content)
        new.writestr(MANIFEST, json.dumps(manifest))
    fault, _ = run("unpack", made, tmp_path / "new")
    assert isinstance(fault, UnavailableError)
    assert list((tmp_path / "new").iterdir()) == []
    assert run("unpack", packed, tmp_path / "new")[0] == 0


@pytest.mark.parametrize(
    ("listed", "local", "value"),
    [(8, 6, 1), (10, 8, 97), (6, 4, 228)],
    ids=["encrypted", "packed in another way", "for a later reader"],
)
def test_an_archive_of_another_kind_is_refused_in_a_sentence(packed, tmp_path, listed, local, value):
    """Found by fuzzing: the library's own errors came through."""
    whole = bytearray(packed.read_bytes())
    for head, place in ((b"PK\x01\x02", listed), (b"PK\x03\x04", local)):
        at = -1
        while (at := whole.find(head, at + 1)) >= 0:
            whole[at + place] = value
    packed.write_bytes(whole)
    fault, _ = run("unpack", packed, tmp_path / "new")
    assert isinstance(fault, (MisuseError, UnavailableError))
