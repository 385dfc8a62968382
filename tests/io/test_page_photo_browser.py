"""A phone's photo on its way into the log: small and upright, kept while the yard is lost, without the place it shows."""

import base64

import pytest

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

from tests.worlds.photos import FROM_CAMERA, PROGRESSIVE

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io

LARGE = """async ([head, wide, high]) => {
  const canvas = Object.assign(document.createElement("canvas"), { width: wide, height: high });
  const pen = canvas.getContext("2d"), grain = pen.createImageData(wide, high);
  let seed = 1;
  for (let at = 0; at < grain.data.length; at++) {
    seed = seed * 16807 % 2147483647;
    grain.data[at] = at % 4 === 3 ? 255 : seed >> 8 & 255;
  }
  pen.putImageData(grain, 0, 0);
  pen.fillStyle = "red";
  pen.fillRect(0, 0, wide / 2, high / 2);
  const made = new Uint8Array(await (await new Promise((done) => canvas.toBlob(done, "image/jpeg", .9))).arrayBuffer());
  const exif = Uint8Array.from(atob(head), (one) => one.charCodeAt(0));
  const reader = new FileReader(), whole = new Blob([made.slice(0, 2), exif, made.slice(2)]);
  return new Promise((done) => { reader.onload = () => done(reader.result.split(",")[1]); reader.readAsDataURL(whole); });
}"""
SEEN = """async (address) => {
  const image = new Image();
  image.src = address;
  await image.decode();
  const canvas = Object.assign(document.createElement("canvas"), { width: image.naturalWidth, height: image.naturalHeight });
  const pen = canvas.getContext("2d");
  pen.drawImage(image, 0, 0);
  return [canvas.width, canvas.height, [...pen.getImageData(0, 0, Math.min(16, canvas.width), 8).data].join()];
}"""
BYTES = """async (address) => {
  const bytes = new Uint8Array(await (await fetch(address)).arrayBuffer());
  return btoa(bytes.reduce((all, one) => all + String.fromCharCode(one), ""));
}"""


def exif_of_camera():
    """Return the segment in which the camera says that its photo lies on its side (6), and where it was taken."""
    at = FROM_CAMERA.index(b"\xff\xe1")
    return FROM_CAMERA[at : at + 2 + int.from_bytes(FROM_CAMERA[at + 2 : at + 4], "big")]


def write(page, words, photo):
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill(words)
    page.locator(".quick[open] input[type=file]").set_input_files(
        {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": photo}
    )


def data_of(photo):
    return "data:image/jpeg;base64," + base64.b64encode(photo).decode()


def test_a_phones_photo_is_made_small_waits_while_the_yard_is_lost_and_names_no_place(visit):
    one = visit("phone", touch=True)
    page = one.go("/place/b2")
    head = base64.b64encode(exif_of_camera()).decode()
    photo = base64.b64decode(page.evaluate(LARGE, [head, 1800, 1350]))
    assert len(photo) > 1_000_000
    write(page, "mites below the lid", photo)
    expect(page.locator(".photo-field output")).to_contain_text("1200 × 1600 px, ")
    one.context.set_offline(True)
    page.locator(".quick[open] button.main").click()
    expect(page.locator("#kept li")).to_contain_text("mites below the lid, with its photo")
    expect(page.locator(".photo-field canvas")).to_have_count(0)
    one.context.set_offline(False)
    page.locator("#kept").get_by_role("button", name="Send now").click()
    shown = page.locator(".entries li", has_text="mites below the lid").locator("img")
    expect(shown).to_have_attribute("alt", "Photo: mites below the lid")
    address = shown.get_attribute("src")
    sent = base64.b64decode(page.evaluate(BYTES, address))
    assert len(sent) <= 400_000
    assert b"Exif" not in sent
    assert photo.count(b"Camera") == 1
    assert sent.count(b"Camera") == 0
    wide, high, _ = page.evaluate(SEEN, address)
    assert (wide, high) == (1200, 1600)
    # What stood at the upper left lies at the upper right when a photo of kind 6 stands upright.
    red = f"""async () => {{
      const image = new Image(); image.src = "{address}"; await image.decode();
      const pen = Object.assign(document.createElement("canvas"), {{ width: 1200, height: 1600 }}).getContext("2d");
      pen.drawImage(image, 0, 0);
      const redder = (x) => {{ const [red, , blue] = pen.getImageData(x, 400, 1, 1).data; return red - blue; }};
      return [redder(900), redder(300)];
    }}"""
    right, left = page.evaluate(red)
    assert right > 150 > left
    # The browser itself says on its console that the yard was lost.
    one.faults.clear()


def test_without_scripts_a_small_photo_keeps_its_pixels_and_a_large_one_is_told_at_its_field(visit):
    looks = visit("desk").go("/place/b2")
    plain = visit("phone", script=False)
    page = plain.go("/place/b2")
    write(page, "a leak", PROGRESSIVE + bytes(1_000_000))
    page.locator(".quick[open] button.main").click()
    assert "at most 400 KB" in page.locator(".quick[open] .wrong").inner_text()
    plain.faults.clear()
    page.locator(".quick[open] input[type=file]").set_input_files(
        {"name": "IMG_2.jpg", "mimeType": "image/jpeg", "buffer": FROM_CAMERA}
    )
    page.locator(".quick[open] button.main").click()
    address = page.locator(".entries li", has_text="a leak").locator("img").get_attribute("src")
    assert address.endswith("-6.jpg")
    assert looks.evaluate(SEEN, address) == looks.evaluate(SEEN, data_of(FROM_CAMERA))
    assert looks.evaluate(SEEN, address)[:2] == [8, 16]
