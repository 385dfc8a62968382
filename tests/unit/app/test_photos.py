"""A photo that goes with a remark: from the command line into the record, with its copies, and out again in time."""

import json
import os
import time
from types import SimpleNamespace

import pytest

from monitor.app.checks.record_checks import record_checks
from monitor.app.entries.photo_taken import keep_photo, photos_of
from monitor.app.upkeep.backups import make_backup
from monitor.app.upkeep.housekeeping import Housekeeping
from monitor.app.upkeep.own_folder import make_private
from monitor.app.upkeep.photo_upkeep import copy_photos, tidy_photos
from monitor.codec import plain_photo
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import Kept, PhotoFolder, open_reader, open_writer
from monitor.model.errors import FieldError, UnavailableError
from monitor.model.events import EventKind
from tests.unit.app.typed_command import call, typed, yard_of
from tests.worlds.photos import FROM_CAMERA, PROGRESSIVE, SECRETS

CONFIG = """
[site]
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[bins.b1]
[backup]
folder = "copies"
"""
DAY_S = 86_400
yard = yard_of(CONFIG)


@pytest.fixture
def taken(yard):
    """A yard with a remark that has a photo; returns (folder, configuration, the photo's name)."""
    (yard / "gate.jpg").write_bytes(FROM_CAMERA)
    (yard / "copies").mkdir()
    told = json.loads(call(yard, "log", "note", "b1", "mites", "--photo", yard / "gate.jpg", "--json"))
    return yard, configuration_of(yard), told["payload"]["photo"]


def configuration_of(yard):
    return load(yard / "heaptender.toml", {}, rules=set())


def photo_in(yard):
    return json.loads(call(yard, "log", "list", "--json"))["photo"]


def old(photos, sha256, days=31):
    then = time.time() - days * DAY_S
    os.utime(photos.path(sha256), (then, then))


def findings(yard, *, quick=False):
    return [one for one in record_checks(configuration_of(yard), quick=quick) if one.what == "photos"]


def test_a_remark_keeps_a_photos_picture_and_how_it_lies_and_nothing_else(taken):
    yard, configuration, name = taken
    sha256, lies = name[:64], name[64:]
    data = photos_of(configuration).read(sha256)
    assert (data, lies) == (plain_photo(FROM_CAMERA).data, "-6")
    assert not any(secret in data for secret in SECRETS)
    assert "mites; with a photo" in call(yard, "log", "list", "b1")
    assert photo_in(yard) == name


def test_nothing_is_kept_of_a_photo_whose_entry_is_only_tried(yard):
    (yard / "gate.jpg").write_bytes(PROGRESSIVE)
    call(yard, "log", "note", "b1", "mites")
    call(yard, "log", "note", "b1", "mites too", "--photo", yard / "gate.jpg", "--only-say")
    assert not (yard / "data" / "photos").exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"GIF89a", "This is no JPEG"), (bytes(500_000), "0.50 MB; one of at most 400 KB"), (None, "cannot be read")],
)
def test_what_is_no_photo_is_refused_with_what_would_be_right(yard, data, words):
    if data is not None:
        (yard / "gate.jpg").write_bytes(data)
    assert words in call(yard, "log", "note", "b1", "mites", "--photo", yard / "gate.jpg", code=2)
    assert "does not go with" in call(yard, "log", "reading", "b1", "20", "--photo", yard / "gate.jpg", code=2)


def test_a_full_yard_and_one_that_takes_no_photos_say_so(yard):
    (yard / "heaptender.toml").write_text(f'{CONFIG}[photos]\nmost = "1 kB"\n')
    keep_photo(configuration_of(yard), PROGRESSIVE)
    keep_photo(configuration_of(yard), PROGRESSIVE)
    with pytest.raises(FieldError, match="all the room for them") as full:
        keep_photo(
            configuration_of(yard),
            PROGRESSIVE.replace(b"\xff\xda\x00\x0c", b"\xff\xfe\x00\x02\xff\xda\x00\x0c")[:-2] + b"\x00\xff\xd9",
        )
    assert full.value.field == "photo"
    (yard / "heaptender.toml").write_text(f'{CONFIG}[photos]\nmost = "0 MB"\n')
    with pytest.raises(FieldError, match="takes no photos"):
        keep_photo(configuration_of(yard), PROGRESSIVE)


@pytest.mark.parametrize(("most", "words"), [("5 GB", "more than 4 GB"), ("500", "no unit"), ("-1 MB", "below zero")])
def test_a_limit_that_makes_no_sense_is_told_by_check(yard, most, words):
    (yard / "heaptender.toml").write_text(f'{CONFIG}[photos]\nmost = "{most}"\n')
    assert words in call(yard, "check", "--offline", code=1)


def test_a_remark_put_right_keeps_its_photo_gets_another_or_loses_it(taken):
    yard, _, name = taken
    call(yard, "log", "correct", "1", "--note", "many mites")
    assert photo_in(yard) == name
    (yard / "other.jpg").write_bytes(PROGRESSIVE)
    call(yard, "log", "correct", "1", "--photo", yard / "other.jpg")
    assert photo_in(yard) not in (name, "")
    call(yard, "log", "correct", "1", "--photo", "")
    assert "photo" not in call(yard, "log", "list", "b1")


def test_an_export_has_the_photos_name_and_an_import_takes_it_and_no_other_word(taken):
    yard, _, name = taken
    call(yard, "export", "work", "--out", yard / "work.csv")
    assert name in (yard / "work.csv").read_text()
    assert "1 piece of work" in call(yard, "import", "--work", yard / "work.csv").partition("There already")[2]
    before = (yard / "work.csv").read_text()
    (yard / "work.csv").write_text(before.replace(name, "gate.jpg").replace("mites", "ants"))
    assert "names no photo" in call(yard, "import", "--work", yard / "work.csv", code=1)


def test_check_tells_of_photos_that_are_there_missing_changed_and_unnamed(taken):
    yard, configuration, name = taken
    photos = photos_of(configuration)
    photos.keep(b"nobody's")
    (sound,) = findings(yard)
    assert (sound.ok, "1 of them named by no entry" in sound.words) == (True, True)
    photos.path(name[:64]).write_bytes(b"other")
    (changed,) = findings(yard)
    assert (changed.ok, f"1 not what was kept ({name[:12]}" in changed.words) == (False, True)
    (quick,) = findings(yard, quick=True)
    assert (quick.ok, quick.warning) == (True, True)
    photos.path(name[:64]).unlink()
    (missing,) = findings(yard, quick=True)
    assert (missing.ok, f"1 missing ({name[:12]}" in missing.words) == (False, True)
    assert str(yard / "copies") in missing.words


def test_a_yard_without_photos_hears_nothing_of_them(yard):
    call(yard, "log", "note", "b1", "mites")
    (yard / "copies").mkdir()
    assert findings(yard) == []


def test_a_photo_goes_a_month_after_the_last_look_at_which_an_entry_named_it(taken):
    yard, configuration, name = taken
    photos = photos_of(configuration)
    old(photos, name[:64])
    assert tidy_photos(configuration) == 0, "an entry names it"
    call(yard, "log", "undo", "1")
    assert tidy_photos(configuration) == 0, "it was named just now"
    old(photos, name[:64])
    assert tidy_photos(configuration) == 1
    assert photos.used() == 0


def test_copies_take_photos_along_give_lost_ones_back_and_let_them_go_with_the_oldest(taken):
    yard, configuration, name = taken
    photos, copies = photos_of(configuration), PhotoFolder(yard / "copies" / "photos")
    copy, _ = make_backup(configuration, 1_793_577_600_000)
    copy_photos(configuration, copy.parent)
    assert copies.read(name[:64]) == photos.read(name[:64]) is not None
    photos.path(name[:64]).unlink()
    copy_photos(configuration, copy.parent)
    assert photos.read(name[:64]) is not None
    call(yard, "log", "undo", "1")
    copy_photos(configuration, copy.parent)
    assert copies.read(name[:64]) is not None, "the oldest copy names it"
    old(copies, name[:64])
    copy_photos(configuration, copy.parent)
    assert copies.read(name[:64]) is None


def test_a_copy_put_back_elsewhere_brings_its_photos(taken, tmp_path):
    yard, configuration, name = taken
    copy, _ = make_backup(configuration, 1_793_577_600_000)
    told = call(yard, "restore", copy)
    assert "photo" not in told, "they are all here"
    photos_of(configuration).path(name[:64]).unlink()
    assert f"1 of the photos that it names are not here, nor in {copy.parent}/photos" in call(yard, "restore", copy)
    PhotoFolder(copy.parent / "photos").keep(plain_photo(FROM_CAMERA).data)
    assert "1 photo came back from beside it" in call(yard, "restore", copy)
    assert photos_of(configuration).read(name[:64]) is not None


def test_a_packed_yard_has_its_photos(taken, tmp_path):
    yard, _, name = taken
    call(yard, "pack", yard / "all.yard")
    typed("unpack", yard / "all.yard", yard / "new")
    assert PhotoFolder(yard / "new" / "data" / "photos").read(name[:64]) is not None


def test_the_photos_are_closed_to_others_and_do_not_keep_the_folder_open(taken):
    yard, configuration, _ = taken
    (yard / "data").chmod(0o755)
    (yard / "data" / "photos").chmod(0o755)
    assert set(make_private(configuration)) == {yard / "data", yard / "data" / "photos"}


def test_no_notice_and_no_decision_carries_a_photo(yard):
    (yard / "heaptender.toml").write_text(f'{CONFIG}[contacts.ann]\nname = "Ann"\nquiet = "none"\n')
    (yard / "lid.jpg").write_bytes(FROM_CAMERA)
    told = json.loads(
        call(yard, "log", "inspected", "b1", "--worms", "on the lid", "--photo", yard / "lid.jpg", "--json")
    )
    sha256 = told["payload"]["photo"][:64]
    notices = call(yard, "export", "notices")
    assert "worms" in notices
    with open_reader(yard / "data") as store:
        tables = {
            table: str(store.connection.execute(f"SELECT * FROM {table}").fetchall()) for table in ("effect", "outbox")
        }
        assert sha256 in str(store.connection.execute("SELECT payload FROM event").fetchall())
    assert sha256 not in notices
    assert not any(sha256 in rows for rows in tables.values())
    assert "worms" in tables["effect"]


DAY_MS = 86_400_000


def test_the_daemons_jobs_copy_photos_and_drop_those_whose_day_retention_dropped(yard):
    (yard / "copies").mkdir()
    configuration, start = configuration_of(yard), 1_793_577_600_000
    name = keep_photo(configuration, PROGRESSIVE)
    photos, copies = photos_of(configuration), PhotoFolder(yard / "copies" / "photos")
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        for day in range(3):
            with writer.turn(start + day * DAY_MS) as turn:
                entry = {"time": start + day * DAY_MS, "place": "b1", "kind": "note", "note": f"day {day}"}
                turn.event(EventKind.WORK, entry | ({} if day else {"photo": name}))
        hub = SimpleNamespace(
            writer=writer,
            clock=SimpleNamespace(now_ms=lambda: start + 3 * DAY_MS),
            call=lambda task: task(),
            event=lambda *told: told_of.append(told),
        )
        told_of = []
        house = Housekeeping(hub, configuration)
        house._backup()
        assert (copies.read(name), [up for _, one in told_of for up in [one["up"]]]) == (PROGRESSIVE, [True])
        writer.prune(Kept(now=start + 3 * DAY_MS, days=1))
        house._tidy_photos()
        assert photos.read(name) is not None, "it was there just now"
        old(photos, name)
        house._tidy_photos()
        assert photos.read(name) is None
        assert copies.read(name) is not None, "the copy names it"


def test_a_stick_that_takes_no_photo_is_told_as_a_failed_copy_and_stops_nothing(taken):
    yard, configuration, _ = taken
    (yard / "copies" / "photos").write_text("no folder")
    with pytest.raises(UnavailableError, match="photos"):
        copy_photos(configuration, yard / "copies")
