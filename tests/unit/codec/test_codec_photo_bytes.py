"""A photo keeps its picture, and nothing else of what a camera wrote."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import PHOTO_MOST, lying, plain_photo
from tests.worlds.photos import FROM_CAMERA, PROGRESSIVE, SECRETS, segments

HEAD = FROM_CAMERA[:2]
JFIF = b"JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"


def segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2, "big") + body


def test_only_the_picture_of_a_photo_is_left() -> None:
    plain = plain_photo(FROM_CAMERA)
    assert not any(secret in plain.data for secret in SECRETS)
    assert plain.data.endswith(b"\xff\xd9")
    assert segments(plain.data)[0] == (0xE0, JFIF)
    picture = [one for one in segments(FROM_CAMERA) if not 0xE0 <= one[0] <= 0xFE]
    assert segments(plain.data)[1:] == picture
    assert FROM_CAMERA[FROM_CAMERA.index(b"\xff\xda") : -len(b"behind")] in plain.data
    assert plain.lies == 6


def test_several_scans_and_restarts_go_through_unchanged() -> None:
    assert plain_photo(PROGRESSIVE).data == PROGRESSIVE
    assert plain_photo(PROGRESSIVE).lies == 1


@given(st.binary(max_size=200) | st.binary(max_size=60).map(lambda more: FROM_CAMERA[:300] + more))
def test_no_bytes_bring_more_than_a_sentence(data: bytes) -> None:
    told = ""
    try:
        plain_photo(data)
    except ValueError as fault:
        told = str(fault)
    assert len(told) < 200


@given(st.data())
def test_a_photo_with_any_byte_changed_is_refused_or_still_without_words(data: st.DataObject) -> None:
    photo = data.draw(st.sampled_from((FROM_CAMERA, PROGRESSIVE)))
    at = data.draw(st.integers(2, len(photo) - 1))
    end = data.draw(st.integers(at + 1, len(photo)))
    changed = photo[:at] + data.draw(st.binary(max_size=6)) + photo[at + 1 : end]
    try:
        plain = plain_photo(changed)
    except ValueError:
        return
    markers = [marker for marker, _ in segments(plain.data)]
    assert markers[0] == 0xE0
    assert not any(0xE0 <= marker <= 0xFE for marker in markers[1:])
    assert plain_photo(plain.data).data == plain.data


@given(st.lists(st.tuples(st.sampled_from([*range(0xE1, 0xEE), 0xEF, 0xFE]), st.binary(max_size=40)), max_size=6))
def test_whatever_words_stand_in_front_the_same_picture_comes_out(words: list[tuple[int, bytes]]) -> None:
    more = b"".join(segment(marker, b"\x00" + body) for marker, body in words)
    assert plain_photo(HEAD + more + PROGRESSIVE[2:]).data == PROGRESSIVE


@pytest.mark.parametrize("order", [b"II\x2a\x00", b"MM\x00\x2a"])
@pytest.mark.parametrize(("said", "lies"), [(1, 1), (3, 3), (8, 8), (0, 1), (9, 1)])
def test_how_a_photo_lies_is_read_in_both_orders_of_bytes(order: bytes, said: int, lies: int) -> None:
    word = "little" if order[:2] == b"II" else "big"
    parts = ((8, 4), (1, 2), (0x0112, 2), (3, 2), (1, 4), (said, 2), (0, 2), (0, 4))
    exif = b"Exif\x00\x00" + order + b"".join(number.to_bytes(size, word) for number, size in parts)  # type: ignore[arg-type]
    plain = plain_photo(HEAD + segment(0xE1, exif) + PROGRESSIVE[2:])
    assert (plain.data, plain.lies) == (PROGRESSIVE, lies)
    assert plain_photo(lying(plain.data, plain.lies)).lies == lies


def test_bytes_that_fill_the_way_to_the_next_segment_cost_no_more_than_others() -> None:
    # A pattern that tries each of them anew would take hours.
    filled = PROGRESSIVE[:-2] + b"\xff" * (PHOTO_MOST - len(PROGRESSIVE))
    assert plain_photo(filled + PROGRESSIVE[-2:]).data.startswith(PROGRESSIVE[:-2])
    with pytest.raises(ValueError, match="breaks off"):
        plain_photo(filled + b"\x00\xd9")


def test_an_upright_photo_goes_out_as_it_is_kept() -> None:
    assert lying(PROGRESSIVE, 1) == PROGRESSIVE
    assert len(lying(PROGRESSIVE, 6)) == len(PROGRESSIVE) + 36


FRAME = PROGRESSIVE.index(b"\xff\xc2")


def framed(body: bytes) -> bytes:
    """Return the progressive photo with another frame."""
    return PROGRESSIVE[:FRAME] + segment(0xC2, body) + PROGRESSIVE[FRAME + 19 :]


@pytest.mark.parametrize(
    ("photo", "words"),
    [
        (b"", "no JPEG"),
        (b"\x89PNG\r\n\x1a\n", "no JPEG"),
        (b"\xff\xd8\xff" + bytes(PHOTO_MOST), "at most 400 KB"),
        (FROM_CAMERA[:-20], "breaks off"),
        (b"\xff\xd8\xff\xd9", "no picture"),
        (PROGRESSIVE[:FRAME] + b"\xff\xd9", "no picture"),
        (PROGRESSIVE.replace(b"\xff\xc2", b"\xff\xc9"), "not every browser"),
        (framed(b"\x08\x00\x08\x00\x10\x04" + bytes(12)), "colours"),
        (framed(b"\x0c\x00\x08\x00\x10\x01\x01\x11\x00"), "colours"),
        (framed(b"\x08\xff\xff\xff\xff\x01\x01\x11\x00"), "65535 × 65535 px"),
        (framed(b"\x08\x00\x00\x00\x10\x01\x01\x11\x00"), "16 × 0 px"),
        (framed(b"\x08\x00\x08"), "breaks off"),
        (HEAD + segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x00") + PROGRESSIVE[2:], "colours"),
        (HEAD + framed(b"\x08\x00\x08\x00\x10\x03R\x11\x00G\x11\x00B\x11\x00")[20:], "colours"),
    ],
)
def test_what_browsers_cannot_show_alike_is_refused_with_what_would_be_right(photo: bytes, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        plain_photo(photo)


def test_a_grey_photo_with_adobes_head_is_taken() -> None:
    grey = framed(b"\x08\x00\x08\x00\x10\x01\x01\x11\x00")
    adobe = segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x00")
    assert plain_photo(HEAD + adobe + grey[2:]).data == grey


def test_a_size_just_over_the_limit_is_never_told_as_the_limit() -> None:
    with pytest.raises(ValueError, match=r"0\.41 MB"):
        plain_photo(bytes(PHOTO_MOST + 1))
