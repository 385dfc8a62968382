"""The canonical bytes of an event, and the hashes over them; normative text: `docs/format-journal.md`.

Rules: an event is one JSON object with the keys `at`, `kind`, `payload`, keys sorted by code point at every level, no
white space, UTF-8, strings escaped only where JSON demands it, numbers only integers. A fraction in a payload is the
caller's mistake: two programs may write one fraction differently, and then the chain would not verify.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from monitor.model.readings import Reading
from monitor.model.times import DAY_MS

ZERO_HASH = bytes(32)
"""The head before the first day, and the hash of a day before its first event."""

_encode = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode


def day_of(at: int) -> int:
    """Return the UTC day (days since 1970-01-01) on which an instant (UTC ms) falls."""
    return at // DAY_MS


def canonical_payload(payload: Mapping[str, Any]) -> str:
    """Return a payload as canonical JSON.

    Raises:
        ValueError: It holds something other than text, integers, true, false, null, lists and objects with text keys.
    """
    _refuse_fractions(payload, "payload")
    text = _encode(dict(payload))
    text.encode()  # a lone surrogate has no UTF-8 form; refuse it here rather than at the commit
    return text


def _refuse_fractions(value: object, where: str) -> None:
    if value is None or isinstance(value, str | int):
        return
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise ValueError(f"{where} has the key {key!r}, which is not text")
            _refuse_fractions(inner, f"{where}.{key}")
    elif isinstance(value, list | tuple):
        for inner in value:
            _refuse_fractions(inner, where)
    else:
        raise ValueError(f"{where} holds {value!r}: an event keeps only text and whole numbers")


def event_bytes(at: int, kind: str, payload: str) -> bytes:
    """Return the canonical bytes of an event without rows.

    Args:
        at: Instant of the event, UTC ms.
        kind: Word of an `EventKind`.
        payload: Canonical JSON (see `canonical_payload`), taken as it is.

    Returns:
        UTF-8 bytes of one JSON object; no newline.
    """
    return f'{{"at":{at},"kind":{_encode(str(kind))},"payload":{payload}}}'.encode()


def rows_event_bytes(at: int, kind: str, rest: Mapping[str, Any], rows: Sequence[Reading]) -> bytes:
    """Return the canonical bytes of an event that brought readings.

    Args:
        at: Instant of the event, UTC ms.
        kind: Word of an `EventKind`.
        rest: The payload without `rows`.
        rows: The readings, ordered by (time, probe).

    Returns:
        UTF-8 bytes of one JSON object; no newline.
    """
    return event_bytes(at, kind, _encode({**rest, "rows": rows}))


def fold(day_hash: bytes, event: bytes) -> bytes:
    """Return a day's hash after one more event: SHA-256(hash so far, canonical bytes)."""
    return hashlib.sha256(day_hash + event).digest()


def next_head(head: bytes, day_hash: bytes) -> bytes:
    """Return the head of the chain after a day: SHA-256(head before, hash of the day)."""
    return hashlib.sha256(head + day_hash).digest()
