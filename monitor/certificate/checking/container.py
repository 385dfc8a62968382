"""Reads a signed document by its structure: how many signatures and revisions it has, and its attachments.

Looked at only once the bytes are known to be what somebody signed (`seal`). Whoever signed may still mean harm, so
everything is limited, and whatever goes wrong is a sentence.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from monitor.certificate.extra import needing
from monitor.certificate.record import JSON_FILE, READINGS_FILE
from monitor.model.errors import MisuseError, UnavailableError

LARGEST_JSON = 64 * 2**20
"""No record is larger, bytes."""

_DEEPEST = 8
_REVISIONS = 2  # the document itself, and its signature


@dataclass(frozen=True, slots=True, kw_only=True)
class Attached:
    """The attachments.

    Attributes:
        record: The canonical JSON.
        readings: The readings, packed.
    """

    record: bytes
    readings: bytes


def open_container(pdf: bytes, place: tuple[int, int] | None) -> Attached:
    """Return the attachments of a document.

    Args:
        pdf: The file.
        place: Where its signature stands; None where the file is broken and only its attachments are wanted.

    Raises:
        MisuseError: There is not exactly one signature, at that place and over the whole file, or not exactly the two
            attachments, or the file cannot be read.
        UnavailableError: A library is missing.
    """
    with needing():
        from pyhanko.pdf_utils.reader import PdfFileReader  # noqa: PLC0415
    try:
        reader = PdfFileReader(BytesIO(pdf), strict=place is not None)
        if place is not None:
            _refuse_other_signatures(reader, place)
        found = dict(_files(reader.root["/Names"]["/EmbeddedFiles"], 0))
    except (MisuseError, UnavailableError):
        raise
    except Exception as fault:
        raise MisuseError(f"The PDF cannot be read by its structure ({type(fault).__name__}).") from fault
    if set(found) != {JSON_FILE, READINGS_FILE}:
        raise MisuseError(f"Attached should be {JSON_FILE} and {READINGS_FILE}, and nothing else.")
    if len(found[JSON_FILE]) > LARGEST_JSON:
        raise MisuseError(f"{JSON_FILE} is larger than {LARGEST_JSON} bytes; no record is.")
    return Attached(record=found[JSON_FILE], readings=found[READINGS_FILE])


def _refuse_other_signatures(reader: Any, place: tuple[int, int]) -> None:
    signatures = reader.embedded_signatures
    if len(signatures) != 1:
        raise MisuseError(f"The document has {len(signatures)} signatures; a certificate has one.")
    stated = [int(number) for number in signatures[0].byte_range]
    if stated[1:3] != list(place):
        raise MisuseError("The document's signature is not the one that covers the whole file.")
    if reader.xrefs.total_revisions != _REVISIONS:
        raise MisuseError("Something was added to the document between its pages and its signature.")


def _files(node: Any, depth: int) -> Iterator[tuple[str, bytes]]:
    """Yield (name, content) of the files in a name tree."""
    if depth > _DEEPEST:
        raise MisuseError("The attachments are nested too deeply.")
    names = node.get("/Names", [])
    for at in range(0, len(names) - 1, 2):
        name = str(names[at])
        try:
            content = bytes(names[at + 1]["/EF"]["/F"].data)
        except Exception as fault:
            raise MisuseError(f"The attached {name:.40} cannot be unpacked: it was changed.") from fault
        yield name, content
    for kid in node.get("/Kids", []):
        yield from _files(kid, depth + 1)
