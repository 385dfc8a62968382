"""Photos: what is kept is a JPEG that is kept unchanged when it comes again, and says nothing but how it lies."""

from monitor.codec import PHOTO_MOST, lying, plain_photo
from tests.fuzz.contract import Parser
from tests.worlds.photos import FROM_CAMERA, PROGRESSIVE


def read(data):
    """Make a photo plain, twice, and say in it how it lies."""
    plain = plain_photo(data)
    assert 1 <= plain.lies <= 8
    assert len(plain.data) <= PHOTO_MOST + 100
    if len(plain.data) > PHOTO_MOST:
        return
    again = plain_photo(plain.data)
    assert again.data == plain.data
    assert again.lies == 1
    for lies in range(1, 9):
        told = plain_photo(lying(plain.data, lies))
        assert (told.data, told.lies) == (plain.data, lies)


PARSER = Parser(
    read,
    allowed=(ValueError,),
    seeds=(FROM_CAMERA, PROGRESSIVE),
    words=(
        b"\xff\xd8\xff",
        b"\xff\xc0\x00\x0b\x08",
        b"\xff\xc2",
        b"\xff\xda\x00\x08",
        b"\xff\xd9",
        b"\xff\xe0",
        b"\xff\xe1",
        b"\xff\xee\x00\x0eAdobe",
        b"\xff\xfe",
        b"\xff\xdb",
        b"\xff\xc4",
        b"\xff\xdd",
        b"\xff\xff",
        b"Exif\x00\x00II*\x00",
        b"Exif\x00\x00MM\x00*",
        b"JFIF\x00",
        b"RGB",
    ),
)
