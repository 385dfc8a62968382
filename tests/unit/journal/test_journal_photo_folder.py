"""Photos are kept once, under their hash, whole, up to a limit; what is not what was kept is no photo."""

import hashlib
import os
import stat
import time

import pytest

from monitor.journal import PhotoFolder, PhotosFullError, bring_photos
from monitor.model.errors import UnavailableError

DAY_S = 86_400


@pytest.fixture
def photos(tmp_path):
    return PhotoFolder(tmp_path / "photos")


def aged(photos, sha256, days):
    then = time.time() - days * DAY_S
    os.utime(photos.path(sha256), (then, then))


def test_a_photo_lies_under_its_hash_for_its_owner_alone(photos):
    sha256 = photos.keep(b"heap")
    assert sha256 == hashlib.sha256(b"heap").hexdigest()
    path = photos.folder / sha256[:2] / f"{sha256}.jpg"
    assert (path.read_bytes(), stat.S_IMODE(path.stat().st_mode)) == (b"heap", 0o600)
    assert [stat.S_IMODE(one.stat().st_mode) for one in path.parents[:2]] == [0o700, 0o700]
    assert photos.read(sha256) == b"heap"


def test_the_same_photo_is_kept_once_and_counts_as_new(photos):
    sha256 = photos.keep(b"heap")
    aged(photos, sha256, 40)
    assert photos.keep(b"heap", most=4) == sha256
    assert photos.used() == 4
    assert photos.remove((), 30 * DAY_S) == 0


def test_the_limit_holds_to_the_byte_and_names_what_is_kept(photos):
    photos.keep(b"12345", most=8)
    photos.keep(b"678", most=8)
    with pytest.raises(PhotosFullError) as full:
        photos.keep(b"9", most=8)
    assert full.value.used == photos.used() == 8


def test_a_changed_photo_is_none_until_it_is_sent_again(photos):
    sha256 = photos.keep(b"heap")
    photos.path(sha256).write_bytes(b"hexp")
    assert photos.read(sha256) is None
    photos.keep(b"heap")
    assert photos.read(sha256) == b"heap"


def test_only_what_is_old_and_unnamed_goes_and_what_broke_off(photos):
    old, new, named = photos.keep(b"old"), photos.keep(b"new"), photos.keep(b"named")
    for one in (old, named):
        aged(photos, one, 31)
    half = photos.path(new).with_name("half.part")
    half.write_bytes(b"ne")
    assert photos.remove({named}, 30 * DAY_S) == 1
    assert {sha256 for sha256, _, _ in photos.listed()} == {new, named}
    assert not half.exists()


def test_a_look_at_what_is_wanted_makes_it_young_again(photos):
    sha256 = photos.keep(b"heap")
    aged(photos, sha256, 31)
    photos.touch({sha256, "0" * 64})
    assert photos.remove((), 30 * DAY_S) == 0


def test_strange_files_are_neither_counted_nor_removed(photos):
    sha256 = photos.keep(b"heap")
    strange = photos.path(sha256).with_name("holiday.jpg")
    strange.write_bytes(b"sea")
    assert (photos.used(), photos.remove((), -1)) == (4, 1)
    assert strange.exists()


def test_a_folder_that_takes_nothing_is_told_in_a_sentence(tmp_path):
    (tmp_path / "photos").write_text("no folder")
    with pytest.raises(UnavailableError, match="photos"):
        PhotoFolder(tmp_path / "photos").keep(b"heap")
    assert PhotoFolder(tmp_path / "photos").read("0" * 64) is None


def test_a_folder_that_is_not_there_has_no_photos(photos):
    assert (list(photos.listed()), photos.remove((), 0), photos.read("0" * 64)) == ([], 0, None)


def test_only_wanted_photos_that_are_what_was_kept_are_brought(photos, tmp_path):
    other = PhotoFolder(tmp_path / "copies" / "photos")
    good, bad, idle = photos.keep(b"good"), photos.keep(b"bad"), photos.keep(b"idle")
    photos.path(bad).write_bytes(b"bed")
    assert bring_photos(photos, other, {good, bad, "0" * 64}) == 1
    assert [one for one, _, _ in other.listed()] == [good]
    assert bring_photos(photos, other, {good, idle}) == 1
