"""Reads the form in the body of a request: plain forms anywhere, forms with a photo where one may be sent.

A form with a photo is read by Starlette's own reader. A photo that is too large is not kept in memory: its size is enough to
say so at its field. Of a name that is sent twice the first counts. A body that does not come within its time is none.
"""

import asyncio
import logging
from collections.abc import AsyncGenerator, Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, UploadFile

from monitor.codec import PHOTO_MOST

log = logging.getLogger("heaptender.page")

BODY_MOST = 64 * 1024
FIELDS_MOST = 500
PHOTO_BODY_MOST = 16_000_000
"""The most bytes of a form with a photo (our choice): a phone's photo as it is, so that its field can say it is too large."""
PHOTO_PATHS = ("/do/work", "/do/mend")
"""The addresses that take a photo."""
PHOTO_FIELD = "photo_file"
BODY_S, PHOTO_BODY_S = 30.0, 180.0
"""Seconds within which a body must come (our choice): 16 MB over the edge of a yard's Wi-Fi take the longer one."""

Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]


@dataclass(frozen=True, slots=True)
class SentPhoto:
    """A photo as it was sent: its size in bytes, and its bytes, cut off behind the most that is kept."""

    size: int
    data: bytes = field(repr=False)


@dataclass(frozen=True, slots=True)
class ReadForm:
    """The fields of a form, and the photo that was sent with it, if any."""

    fields: dict[str, str]
    photo: SentPhoto | None = None


class _TooLongError(Exception):
    pass


async def read_form(headers: Headers, receive: Receive, path: str) -> ReadForm | None:
    """Return the form of a request; None if it is none, or too long.

    Args:
        headers: The request's.
        receive: Gives the pieces of its body.
        path: Its address.
    """
    kind = headers.get("content-type", "").split(";")[0].strip()
    try:
        if kind == "application/x-www-form-urlencoded":
            async with asyncio.timeout(BODY_S):
                return _plain(b"".join([piece async for piece in _pieces(receive, BODY_MOST)]))
        if kind == "multipart/form-data" and path in PHOTO_PATHS:
            async with asyncio.timeout(PHOTO_BODY_S):
                return await _with_photo(headers, _pieces(receive, PHOTO_BODY_MOST))
    except (_TooLongError, TimeoutError):
        return None
    except OSError as fault:
        # The reader keeps what is larger than a megabyte on the disk meanwhile.
        log.warning("A form with a photo could not be read: %s.", fault.strerror or fault)
    return None


async def _pieces(receive: Receive, most: int) -> AsyncGenerator[bytes, None]:
    size, more = 0, True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            raise _TooLongError
        piece = message.get("body", b"")
        size += len(piece)
        if size > most:
            raise _TooLongError
        yield piece
        more = message.get("more_body", False)


def _plain(body: bytes) -> ReadForm | None:
    try:
        pairs = parse_qsl(body.decode(), keep_blank_values=True, max_num_fields=FIELDS_MOST, errors="strict")
    except (ValueError, UnicodeDecodeError):
        return None
    return ReadForm(_first_of(pairs))


async def _with_photo(headers: Headers, pieces: AsyncGenerator[bytes, None]) -> ReadForm | None:
    # Loaded with the first photo: most forms have none.
    from starlette.formparsers import MultiPartException, MultiPartParser  # noqa: PLC0415

    reader = MultiPartParser(headers, pieces, max_files=1, max_fields=FIELDS_MOST, max_part_size=BODY_MOST)
    try:
        form = await reader.parse()
    except (MultiPartException, UnicodeError):
        return None
    try:
        texts = [(name, told) for name, told in form.multi_items() if isinstance(told, str)]
        file = form.get(PHOTO_FIELD)
        photo = None
        if isinstance(file, UploadFile) and file.size:
            photo = SentPhoto(file.size, await file.read(PHOTO_MOST + 1))
    finally:
        await form.close()
    return ReadForm(_first_of(texts), photo) if sum(len(told) for _, told in texts) <= BODY_MOST else None


def _first_of(pairs: list[tuple[str, str]]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in pairs:
        found.setdefault(name, value)
    return found
