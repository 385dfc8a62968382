"""The manifest beside a copy of the record names all that belongs to it; `check` and `restore` hold the copy against it."""

import json
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.app.upkeep.copy_manifest import FORMAT, held_against_manifest, manifest_path
from monitor.app.upkeep.housekeeping import Housekeeping
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import PhotoFolder, journal_path, open_reader, open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from tests.worlds.photos import FROM_CAMERA

T0 = 1_793_577_600_000
HOUR, DAY = 3_600_000, 86_400_000
YARD = """
[site]
name = "Tern Hollow"
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[bins.b1]
[probes.b1-t]
place = "b1"
[page]
on = false
[backup]
folder = "copies"
keep = 2
"""


def run(yard, *words):
    done = CliRunner().invoke(heaptender, [*words, "--config", str(yard / "heaptender.toml")], standalone_mode=False)
    assert done.exception is None, done.exception
    return done


@pytest.fixture
def yard(tmp_path):
    """A yard of three days with labels and a photo, and a copy of its record."""
    (tmp_path / "heaptender.toml").write_text(YARD)
    (tmp_path / "copies").mkdir(mode=0o700)
    configuration = load(tmp_path / "heaptender.toml", {}, rules=set())
    with open_writer(tmp_path / "data", Engine, Engine.restore) as writer:
        for day in range(3):
            with writer.turn(T0 + day * DAY) as turn:
                turn.readings([Reading(T0 + day * DAY, "b1-t", 20_000_000, "Cel")])
        (tmp_path / "data" / "labels.csv").write_text("place,start,end,kind,note\n")
        sha256 = PhotoFolder(tmp_path / "data" / "photos").keep(FROM_CAMERA)
        with writer.turn(T0 + 2 * DAY + HOUR) as turn:
            turn.event(EventKind.WORK, {"kind": "note", "place": "b1", "time": T0, "note": "x", "photo": sha256})
        copied(writer, configuration, 3)
    return tmp_path


def copied(writer, configuration, days):
    hub = SimpleNamespace(
        writer=writer,
        clock=SimpleNamespace(now_ms=lambda: T0 + days * DAY),
        call=lambda task: task(),
        event=lambda *_: None,
    )
    Housekeeping(hub, configuration)._backup()


def copy_of(yard):
    (copy,) = (yard / "copies").glob("journal-*.sqlite")
    return copy


def told_of(yard, *more):
    found = json.loads(run(yard, "check", "--json", *more).output)["connections"]
    return [(one["ok"], one["words"]) for one in found if one["what"] == "copies"]


def test_it_names_the_copy_how_far_it_reaches_what_travels_in_it_and_its_photos(yard):
    copy = copy_of(yard)
    manifest = json.loads(manifest_path(copy).read_text())
    with open_reader(yard / "data") as store:
        head = store.chain()[-1].head.hex()
    assert manifest["format"] == FORMAT
    assert manifest["site"] == "Tern Hollow"
    assert manifest["made"] == "2026-11-05T00:00:00.000Z"
    record = manifest["record"]
    assert (record["name"], record["size"]) == (copy.name, copy.stat().st_size)
    assert (record["first_day"], record["last_day"], record["head"]) == ("2026-11-02", "2026-11-04", head)
    assert record["until"] == "2026-11-04T01:00:00.000Z"
    assert [one["name"] for one in manifest["beside"]] == ["labels.csv"]
    assert [one["size"] for one in manifest["photos"]] == [len(FROM_CAMERA)]
    assert manifest["damaged"] == []
    assert manifest_path(copy).stat().st_mode & 0o777 == 0o600
    assert held_against_manifest(copy) == []
    assert told_of(yard) == [(True, "each of 1 is what its manifest says")]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda copy: copy.write_bytes(copy.read_bytes()[:-1]), "bytes, and its manifest says"),
        (lambda copy: copy.write_bytes(copy.read_bytes()[:-1] + b"x"), "its SHA-256 is not that of its manifest"),
        (lambda copy: manifest_path(copy).write_text("{"), "its manifest cannot be read"),
        (lambda copy: manifest_path(copy).write_text("[" * 100_000), "its manifest cannot be read"),
        (lambda copy: manifest_path(copy).write_text('{"format":"another"}'), "its manifest cannot be read"),
        (lambda copy: rewritten(copy, name="journal-20200101T000000Z.sqlite"), "its manifest is that of journal-2020"),
    ],
)
def test_check_and_restore_say_how_a_copy_differs_from_it(yard, change, said):
    copy = copy_of(yard)
    before = journal_path(yard / "data").read_bytes()
    change(copy)
    (found,) = [words for ok, words in told_of(yard) if not ok]
    assert said in found
    assert found.startswith(copy.name)
    refused = run(yard, "restore", str(copy))
    assert refused.return_value == 1
    assert said in refused.output
    assert "Nothing was changed: take another backup." in refused.output
    assert json.loads(run(yard, "restore", str(copy), "--json").output)["restored"] is None
    assert journal_path(yard / "data").read_bytes() == before


def rewritten(copy, **values):
    manifest = json.loads(manifest_path(copy).read_text())
    manifest["record"].update(values)
    manifest_path(copy).write_text(json.dumps(manifest))


def test_a_copy_that_another_program_wrote_into_is_found_only_by_reading_it(yard):
    copy = copy_of(yard)
    copy.write_bytes(copy.read_bytes()[:-1] + b"x")
    assert told_of(yard, "--quick") == [(True, "each of 1 is of the size that its manifest says (--quick)")]


def test_a_photo_that_lacks_or_changed_is_found_but_keeps_no_record_from_being_put_back(yard):
    copy = copy_of(yard)
    (photo,) = (yard / "copies" / "photos").rglob("*.jpg")
    photo.write_bytes(photo.read_bytes()[:-1] + b"x")
    assert held_against_manifest(copy) == ["1 photo that it names lacks or has changed"]
    photo.unlink()
    assert held_against_manifest(copy, quick=True) == ["1 photo that it names lacks or has changed"]
    assert run(yard, "restore", str(copy)).return_value == 0


def test_a_photo_that_was_lost_before_the_copy_stands_in_it_without_a_size_and_is_no_fault_of_the_copy(yard):
    configuration = load(yard / "heaptender.toml", {}, rules=set())
    for folder in ("data", "copies"):
        next((yard / folder / "photos").rglob("*.jpg")).unlink()
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        copied(writer, configuration, 4)
    newest = max((yard / "copies").glob("journal-*.sqlite"))
    assert [one["size"] for one in json.loads(manifest_path(newest).read_text())["photos"]] == [None]
    assert held_against_manifest(newest) == []


def test_a_copy_that_broke_off_is_cleared_away_by_the_next_one(yard):
    half = yard / "copies" / "journal-20261101T000000Z.sqlite.part"
    half.write_bytes(b"half")
    mine = yard / "copies" / "mine.part"
    mine.write_bytes(b"mine")
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        copied(writer, load(yard / "heaptender.toml", {}, rules=set()), 4)
    assert not half.exists()
    assert mine.exists()


def test_it_goes_with_its_copy_and_one_of_before_needs_none(yard):
    configuration = load(yard / "heaptender.toml", {}, rules=set())
    manifest_path(copy_of(yard)).unlink()
    assert told_of(yard)[0][1].startswith("1 without a manifest, as an older version made them")
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        for days in (4, 5, 6):
            copied(writer, configuration, days)
    copies = sorted(path.stem for path in (yard / "copies").glob("journal-*.sqlite"))
    assert copies == sorted(path.stem for path in (yard / "copies").glob("journal-*.json"))
    assert len(copies) == 2
