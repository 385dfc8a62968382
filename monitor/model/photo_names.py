"""The name of a photo, as an entry keeps it: the SHA-256 of its bytes, and behind it how it lies, if it does not stand upright.

`6b86…75b4b` stands upright; `6b86…75b4b-6` lies as the number says, one of 2 to 8 as in Exif (JEITA CP-3451, tag 0x0112). The
number is kept here since every other word that a camera wrote into its file is taken out of it.
"""

import re

UPRIGHT = 1
_NAME = re.compile(r"([0-9a-f]{64})(?:-([2-8]))?", re.ASCII)
NO_PHOTO = "it names no photo: 64 digits of the SHA-256 of its bytes, such as an export of the log has them"


def photo_name(sha256: str, lies: int = UPRIGHT) -> str:
    """Return the name of a photo.

    Args:
        sha256: Of its bytes, as 64 hexadecimal digits.
        lies: How it lies, 1 to 8 as in Exif; 1: upright.
    """
    return sha256 if lies == UPRIGHT else f"{sha256}-{lies}"


def photo_parts(name: str) -> tuple[str, int] | None:
    """Return the SHA-256 of a photo and how it lies (1 to 8); None if the text is no name of a photo."""
    found = _NAME.fullmatch(name)
    return None if found is None else (found[1], int(found[2] or UPRIGHT))


def photo_understood(text: str) -> str:
    """Return the name of a photo as the record keeps it; "" stays "".

    Raises:
        ValueError: The text names no photo.
    """
    plain = text.strip().casefold()
    if plain and photo_parts(plain) is None:
        raise ValueError(f'"{text.strip()[:20]}": {NO_PHOTO}')
    return plain
