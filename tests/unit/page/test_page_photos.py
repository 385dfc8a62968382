"""A photo goes with a remark: taken in by its rules, shown to whoever sees the log, and to nobody else."""

import asyncio
import re

import pytest
from page_visitor import browser
from page_yard_for_tests import page_of, photos_of
from starlette.datastructures import Headers

from monitor.codec import PHOTO_MOST, lying, plain_photo
from monitor.page.visitors import form_reading
from monitor.page.visitors.form_reading import PHOTO_BODY_MOST
from tests.worlds.photos import FROM_CAMERA, PROGRESSIVE, SECRETS

PLAIN = plain_photo(FROM_CAMERA)


def sent(near, photo, path="/do/work", page="/", **form):
    """Send a form with a photo; b"" stands for a field in which none was chosen."""
    files = {"photo_file": ("mites.jpg", photo, "image/jpeg") if photo else ("", b"", "application/octet-stream")}
    return near.post(
        path, data={"token": form.get("token") or near.token(page), **form}, files=files, follow_redirects=False
    )


def remark(near, photo, **form):
    return sent(
        near, photo, **{"place": "p1", "kind": "note", "form": "note", "note": "mites", "back": "/place/p1"} | form
    )


def shown(near, path="/place/p1"):
    return re.findall(r'<img src="(/photo/[^"]+)" alt="([^"]*)"', near.get(path).text)


def test_a_remark_with_a_photo_shows_its_picture_and_nothing_else_of_it(yard, near):
    assert remark(near, FROM_CAMERA).status_code == 303
    name = yard.works()[-1]["photo"]
    assert shown(near) == [(f"/photo/{name}.jpg", "Photo: mites")]
    answer = near.get(f"/photo/{name}.jpg")
    assert answer.content == lying(PLAIN.data, 6)
    assert not any(secret in answer.content for secret in SECRETS if secret != b"Exif"), "all but how it lies"
    assert (answer.headers["content-type"], answer.headers["x-content-type-options"]) == ("image/jpeg", "nosniff")
    assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
    (kept,) = yard.folder.glob("photos/*/*")
    assert kept.read_bytes() == PLAIN.data


def test_a_form_in_which_no_photo_was_chosen_is_a_plain_remark(yard, near):
    assert remark(near, b"").status_code == 303
    assert "photo" not in yard.works()[-1]
    assert shown(near) == []


@pytest.mark.parametrize(
    ("photo", "words"),
    [
        (FROM_CAMERA + bytes(3_000_000), "This photo has 3.00 MB; one of at most 400 KB is kept"),
        (PROGRESSIVE + bytes(PHOTO_MOST + 1 - len(PROGRESSIVE)), "0.41 MB"),
        (b"GIF89a", "This is no JPEG"),
        (FROM_CAMERA[:200], "breaks off"),
    ],
)
def test_what_is_no_photo_is_told_at_its_field_and_the_remark_stays_typed(yard, near, photo, words):
    answer = remark(near, photo)
    assert answer.status_code == 400
    assert words in answer.text
    assert 'accept="image/jpeg" aria-invalid="true"' in answer.text
    assert ">mites</textarea>" in answer.text
    assert yard.works() == []
    assert not (yard.folder / "photos").exists()


def test_a_photo_of_400_kb_to_the_byte_is_taken(yard, near):
    photo = PROGRESSIVE + bytes(PHOTO_MOST - len(PROGRESSIVE))
    assert remark(near, photo).status_code == 303


def test_a_form_that_is_refused_for_another_field_need_not_have_its_photo_again(yard, near):
    answer = remark(near, PROGRESSIVE, note="")
    assert "It is there already" in answer.text
    name = re.search(r'name="photo" value="([^"]+)"', answer.text)[1]
    assert near.send("/do/work", place="p1", kind="note", note="mites", photo=name).status_code == 303
    assert yard.works()[-1]["photo"] == name


def test_a_question_keeps_the_photo_until_it_is_answered(yard, near):
    remark(near, b"", kind="turned")
    asked = remark(near, PROGRESSIVE, kind="turned")
    assert asked.status_code == 409
    fields = dict(
        re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', asked.text.split('id="question"')[1])
    )
    assert near.send("/do/work", **{**fields, "token": near.token()}).status_code == 303
    assert shown(near)[0][0] == f"/photo/{yard.works()[-1]['photo']}.jpg"


@pytest.mark.parametrize("name", ["0" * 64, "../page.key", "x"])
def test_a_photo_that_is_not_there_cannot_be_named(yard, near, name):
    assert near.send("/do/work", place="p1", kind="note", note="mites", photo=name).status_code == 303
    assert "photo" not in yard.works()[-1]
    assert near.get(f"/photo/{name}.jpg").status_code == 404


def test_a_photo_changed_on_the_disk_is_not_shown(yard, near):
    remark(near, PROGRESSIVE)
    (kept,) = yard.folder.glob("photos/*/*")
    kept.write_bytes(FROM_CAMERA)
    answer = near.get(shown(near)[0][0])
    assert (answer.status_code, "was changed on the disk" in answer.text) == (404, True)


def entry(near):
    way = re.search(r'<a href="(/entry\?[^"]+)">', near.get("/place/p1").text)[1].replace("&amp;", "&")
    text = near.get(way).text
    return re.search(r"<h1>Entry (\d+)", text)[1], text


def mended(near, photo, **form):
    number, text = entry(near)
    when = re.search(r'name="when" required value="([^"]+)"', text)[1]
    return sent(near, photo, "/do/mend", number=number, when=when, **{"note": "mites"} | form)


def test_an_entry_put_right_keeps_its_photo_gets_another_or_loses_it(yard, near):
    remark(near, PROGRESSIVE)
    first = shown(near)
    assert mended(near, b"", note="many mites").status_code == 303
    assert [one for one, _ in shown(near)] == [first[0][0]]
    assert mended(near, FROM_CAMERA, note="many mites").status_code == 303
    assert shown(near)[0][0] == f"/photo/{yard.put_in[-1][1]['work']['photo']}.jpg" != first[0][0]
    assert shown(near, f"/entry/{entry(near)[0]}") == [(shown(near)[0][0], "Photo: many mites")]
    assert mended(near, b"", note="many mites", photo_off="1").status_code == 303
    assert (shown(near), "photo" in yard.put_in[-1][1]["work"]) == ([], False)


def test_a_photo_that_is_gone_leaves_the_entry_standing(yard, near):
    remark(near, PROGRESSIVE)
    (kept,) = yard.folder.glob("photos/*/*")
    kept.unlink()
    assert "Its photo is not here any more." in entry(near)[1]


def test_a_yard_without_room_offers_none(yard):
    app, _ = page_of(yard, photos=photos_of(yard, photos_most=0))
    near = browser(app)
    assert "photo_file" not in near.get("/place/p1").text
    answer = remark(near, PROGRESSIVE)
    assert (answer.status_code, yard.works()) == (400, [])


def test_guests_see_a_photo_where_they_see_the_log_and_strangers_see_none(yard, open_page):
    elsewhere, page, keeper = open_page
    remark(keeper(), PROGRESSIVE)
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    guest = elsewhere("192.0.2.9")
    guest.get(f"/guest/{secret}", follow_redirects=False)
    ((address, _),) = shown(guest)
    assert guest.get(address).content == PROGRESSIVE
    answer = elsewhere().get(address, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, "/enter")
    before = len(yard.put_in)
    assert remark(guest, FROM_CAMERA, token="x").status_code == 403
    assert (len(yard.put_in), len(list(yard.folder.glob("photos/*/*")))) == (before, 1)


def test_only_where_a_photo_may_go_along_is_such_a_form_read(yard, near):
    assert sent(near, PROGRESSIVE, "/do/reading", place="b1", value="31").status_code == 413
    assert sent(near, bytes(PHOTO_BODY_MOST), place="p1", kind="note", note="x").status_code == 413
    assert sent(near, PROGRESSIVE, place="p1", kind="note", note="x" * 70_000).status_code == 413
    broken = {"content-type": "multipart/form-data; boundary=x"}
    for body in (b"", b"--x\r\n", b"--x\r\n\r\nno name\r\n--x--", b"\xff" * 100):
        assert near.post("/do/work", content=body, headers=broken).status_code in (403, 413)
    assert near.post("/do/work", content=b"", headers={"content-type": "multipart/form-data"}).status_code == 413
    assert yard.works() == []


def reading(path, kind, receive):
    return asyncio.run(form_reading.read_form(Headers({"content-type": kind}), receive, path))


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_a_body_that_drips_or_breaks_off_is_no_form(monkeypatch, kind):
    async def never():
        await asyncio.Event().wait()

    async def gone():
        return {"type": "http.disconnect"}

    monkeypatch.setattr(form_reading, "BODY_S", 0.0)
    monkeypatch.setattr(form_reading, "PHOTO_BODY_S", 0.0)
    assert reading("/do/work", kind, never) is None
    monkeypatch.undo()
    assert reading("/do/work", kind, gone) is None


def test_a_disk_that_holds_no_large_photo_meanwhile_is_told_in_the_log(near, yard, monkeypatch, caplog):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("starlette.formparsers.SpooledTemporaryFile", full)
    assert remark(near, PROGRESSIVE).status_code == 413
    assert "could not be read: No space left on device" in caplog.text
    assert yard.works() == []
