"""Takes everything out of a JPEG but the picture: place, time, camera, thumbnails, comments, what lies behind its end.

Nothing is decoded. The file is walked segment by segment (ITU-T T.81, annex B); the segments without which no picture can be
made are copied as they are, all others are left out, and a JFIF head of eighteen bytes without any word is put in front, so
that programs go on to read the colours as before. A file that is not built as such a picture is refused, with what would be
right. The one number of a camera that the eye needs, how the picture lies, is read before it goes (`photo_names`).
"""

import re
import struct
from dataclasses import dataclass
from typing import Literal

from monitor.model.photo_names import UPRIGHT

PHOTO_MOST = 400_000
"""The most bytes of a photo that is kept (our choice): 1,600 px on the long side, as a page or a sheet of paper can show."""
PIXELS_MOST = 25_000_000
"""The most pixels (our choice): a small file may claim a picture that no phone has room to show."""

_SOI, _EOI, _SOS, _ADOBE, _EXIF = 0xD8, 0xD9, 0xDA, 0xEE, 0xE1
_FRAMES = (0xC0, 0xC2)
"""Baseline and progressive, the two kinds that every browser shows."""
_TABLES = (0xC4, 0xDB, 0xDD)
"""Huffman tables, quantization tables, restart interval."""
_LEFT_OUT = (*range(0xE0, 0xF0), 0xFE)
"""APP0 to APP15, and comments."""
_HEAD = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]", re.DOTALL)
_ORIENTATION = 0x0112
_SAVE_ANEW = "save it anew as an ordinary JPEG"
_FOR_PRINTERS = f"this photo keeps its colours in a way that browsers may show wrongly; {_SAVE_ANEW}"
_BROKEN = "this photo is broken, or breaks off; send it again, or choose another"


@dataclass(frozen=True, slots=True)
class PlainPhoto:
    """A photo that is nothing but its picture.

    Attributes:
        data: The bytes of a JPEG without metadata.
        lies: How it lies, 1 to 8 as in Exif; 1: upright.
    """

    data: bytes
    lies: int = UPRIGHT


@dataclass(slots=True)
class _Seen:
    """The facts seen so far: heads of two kinds, colours kept as RGB, how it lies (0: not said), frame and names, scans."""

    jfif: bool = False
    adobe: bool = False
    rgb: bool = False
    lies: int = 0
    frame: bool = False
    names: bytes = b""
    scans: int = 0


def plain_photo(data: bytes) -> PlainPhoto:
    """Return a photo without its metadata.

    Raises:
        ValueError: It is no such JPEG, or too large; the message says what would be right.
    """
    if len(data) > PHOTO_MOST:
        raise ValueError(too_large(len(data)))
    if data[:3] != b"\xff\xd8\xff":
        raise ValueError(f"this is no JPEG; {_SAVE_ANEW}, or choose another photo")
    seen, kept, at = _Seen(), [b"\xff\xd8", _HEAD], 2
    while True:
        marker, start, end = _segment(data, at)
        if marker == _EOI:
            break
        at = end
        if marker in _LEFT_OUT:
            _heed(marker, data[start:end], seen)
            continue
        if marker in _FRAMES and not seen.frame:
            _check_frame(data[start:end], seen)
        elif marker == _SOS and seen.frame:
            _check_colours(seen)
            at = _end_of_scan(data, end)
            seen.scans += 1
        elif marker not in _TABLES:
            raise ValueError(f"this is a kind of JPEG that not every browser shows; {_SAVE_ANEW}")
        kept += [bytes((0xFF, marker)), data[start - 2 : at]]
    if not seen.scans:
        raise ValueError("there is no picture in this file; choose another photo")
    return PlainPhoto(b"".join((*kept, b"\xff\xd9")), seen.lies or UPRIGHT)


def too_large(size: int) -> str:
    """Return why a photo of so many bytes is refused, and what would be right."""
    megabytes = max(size, PHOTO_MOST + 5_000) / 1e6
    return (
        f"this photo has {megabytes:.2f} MB; one of at most {PHOTO_MOST // 1000} KB is kept: send it in a smaller size"
    )


def lying(data: bytes, lies: int) -> bytes:
    """Return a plain photo with one word for programs that show it: how it lies.

    Args:
        data: A photo as `plain_photo` returns it.
        lies: 1 to 8 as in Exif; an upright one needs no word.
    """
    if lies == UPRIGHT or data[2 : 2 + len(_HEAD)] != _HEAD:
        return data
    told = b"Exif\x00\x00" + b"MM\x00\x2a\x00\x00\x00\x08" + struct.pack(">HHHIHHI", 1, _ORIENTATION, 3, 1, lies, 0, 0)
    behind = 2 + len(_HEAD)
    return data[:behind] + b"\xff\xe1" + struct.pack(">H", len(told) + 2) + told + data[behind:]


def _segment(data: bytes, at: int) -> tuple[int, int, int]:
    """Return the marker of the segment at a place, and where its content begins and ends; of the end of the picture 0 and 0.

    Raises:
        ValueError: There is none, or it breaks off.
    """
    if data[at : at + 1] != b"\xff":
        raise ValueError(_BROKEN)
    while data[at : at + 1] == b"\xff":
        at += 1
    marker = data[at] if at < len(data) else 0
    if marker == _EOI:
        return marker, 0, 0
    start = at + 3
    length = int.from_bytes(data[at + 1 : start], "big")
    if marker < 0xC0 or 0xD0 <= marker < _EOI or length < 2 or start + length - 2 > len(data):
        raise ValueError(_BROKEN)
    return marker, start, start + length - 2


def _end_of_scan(data: bytes, at: int) -> int:
    found = _NEXT_MARKER.search(data, at)
    if found is None:
        raise ValueError(_BROKEN)
    return found.start()


def _check_frame(body: bytes, seen: _Seen) -> None:
    """See whether a frame is one that every browser shows.

    Raises:
        ValueError: It is not.
    """
    if len(body) < 6 or len(body) != 6 + 3 * body[5]:
        raise ValueError(_BROKEN)
    bits, high, wide, colours = struct.unpack(">BHHB", body[:6])
    if colours not in (1, 3) or bits != 8:
        raise ValueError(_FOR_PRINTERS)
    if not high or not wide or high * wide > PIXELS_MOST:
        raise ValueError(
            f"this photo claims {wide} × {high} px; send it in a smaller size, such as 1600 px on its long side"
        )
    seen.frame, seen.names = True, bytes(body[6::3])


def _check_colours(seen: _Seen) -> None:
    """See whether the colours mean the same behind the new head, which says *luminance and two differences*.

    Raises:
        ValueError: They are red, green and blue.
    """
    named_so = seen.names == b"RGB" and not (seen.jfif or seen.adobe)
    if len(seen.names) == 3 and (seen.rgb or named_so):
        raise ValueError(_FOR_PRINTERS)


def _heed(marker: int, body: bytes, seen: _Seen) -> None:
    """Read from a segment that is left out the little that the picture needs."""
    if body[:5] == b"JFIF\x00":
        seen.jfif = True
    elif marker == _ADOBE and body[:5] == b"Adobe" and len(body) >= 12:
        seen.adobe, seen.rgb = True, body[11] == 0
    elif marker == _EXIF and body[:6] == b"Exif\x00\x00" and not seen.lies:
        seen.lies = _how_it_lies(body[6:])


def _how_it_lies(tiff: bytes) -> int:
    """Return the orientation of an Exif block, 1 to 8; 0 if it says none that can be read."""
    order: Literal["little", "big"] = "little" if tiff[:2] == b"II" else "big"

    def number(start: int, size: int) -> int:
        return int.from_bytes(tiff[start : start + size], order)

    first = number(4, 4)
    for entry in range(first + 2, min(first + 2 + 12 * number(first, 2), len(tiff) - 11), 12):
        if (number(entry, 2), number(entry + 2, 2), number(entry + 4, 4)) == (_ORIENTATION, 3, 1):
            said = number(entry + 8, 2)
            return said if 1 <= said <= 8 else 0
    return 0
