"""Reads one value out of any JSON document, by pointers from the configuration.

Rules: 1. Pointers are RFC 6901; the empty pointer is the whole document. 2. The value is a number, or a text that holds
nothing but a number. 3. A time is RFC 3339 text, or Unix time as a number: seconds below 10^11, milliseconds from there on
(common practice, no published source: 10^11 s is the year 5138, 10^11 ms is 1973). A time pointer that finds nothing or
null means that the message has no time. 4. A pointer finds the probe's address, else it comes from the topic.
"""

from dataclasses import dataclass
from typing import Any

from monitor.codec.decoded import LIMIT_BYTES, Decoded, Reject, excerpt, is_word, rejected, timed_or_stale
from monitor.codec.documents import read_document
from monitor.codec.number import read_micro
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.times import parse_time
from monitor.model.units import to_micro

_MS_FROM = 10**11
_TIME_MAX_MS = 253_402_300_800_000  # the end of the year 9999
_ABSENT = object()


def parse_pointer(text: str) -> tuple[str, ...]:
    """Return a JSON pointer's tokens.

    Raises:
        ValueError: The text is neither empty nor begins with `/`, or a `~` is not followed by 0 or 1.

    Source: RFC 6901 sections 3 and 4.
    """
    if text == "":
        return ()
    if not text.startswith("/"):
        raise ValueError(f"{text!r} is not a JSON pointer (RFC 6901): it begins with /")
    tokens = text[1:].split("/")
    for token in tokens:
        if "~" in token.replace("~0", "").replace("~1", ""):
            raise ValueError(f"{text!r} is not a JSON pointer (RFC 6901): ~ is written ~0")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in tokens)


def follow(document: Any, tokens: tuple[str, ...]) -> Any:
    """Return the value at a pointer, or a marker that is no JSON value if there is none.

    Source: RFC 6901 section 4; an array's index has no leading zero, and `-` never exists.
    """
    found = document
    for token in tokens:
        if isinstance(found, dict):
            found = found.get(token, _ABSENT)
        elif isinstance(found, list) and token.isascii() and token.isdecimal() and str(int(token[:9])) == token:
            index = int(token)
            found = found[index] if index < len(found) else _ABSENT
        else:
            return _ABSENT
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class PointerForm:
    """The places of the parts in a document.

    Attributes:
        value, time, probe: JSON pointers; None: not in the document.
        quantity: Quantity's word, if the form fixes it.
        unit: Unit code of `model.units`, if the form fixes it.
    """

    value: str
    time: str | None = None
    probe: str | None = None
    quantity: str | None = None
    unit: str | None = None


class PointerDecoder:
    """Reads the payloads of one topic."""

    def __init__(
        self,
        form: PointerForm,
        address: str | None = None,
        quantity: str | None = None,
        *,
        limit: int = LIMIT_BYTES,
    ) -> None:
        """Take the form, and the facts from the topic.

        Raises:
            ValueError: A pointer is malformed, or neither the form nor the topic names the probe.
        """
        if form.probe is None and address is None:
            raise ValueError("neither a pointer nor the topic names the probe")
        self._value = parse_pointer(form.value)
        self._time = None if form.time is None else parse_pointer(form.time)
        self._probe = None if form.probe is None else parse_pointer(form.probe)
        self._quantity = quantity if form.quantity is None else form.quantity
        self._unit = form.unit
        self._address = address
        self._limit = limit

    def __call__(self, payload: bytes | bytearray, received: int, stale: bool = False) -> Decoded:  # noqa: ARG002
        """Return the value (see `Decoder`)."""
        document = read_document(payload, self._limit)
        if isinstance(document, Reject):
            return Decoded((), (document,))
        if document.repeated:
            return rejected(SetAside.MALFORMED, "a label stands twice in one object", payload)
        address = self._address if self._probe is None else _address(follow(document.value, self._probe))
        if address is None:
            return rejected(SetAside.UNKNOWN_PROBE, "the probe's pointer finds no name", payload)
        micro = _micro(follow(document.value, self._value))
        if micro is None:
            return rejected(SetAside.NOT_A_NUMBER, f"{excerpt(address)}: the value's pointer finds no number", payload)
        time = None
        if self._time is not None:
            try:
                time = _time(follow(document.value, self._time))
            except ValueError as fault:
                return rejected(SetAside.MALFORMED, f"{excerpt(address)}: {excerpt(str(fault))}", payload)
        heard = Heard(address, self._quantity, micro, self._unit, time)
        return timed_or_stale(heard, untimed=time is None, stale=stale, data=payload)


def _address(found: Any) -> str | None:
    if type(found) is int:
        return str(found)
    return found if is_word(found) else None


def _micro(found: Any) -> int | None:
    if isinstance(found, str):
        return read_micro(found.strip())
    if isinstance(found, bool) or not isinstance(found, int | float):
        return None
    try:
        return to_micro(found)
    except (ValueError, OverflowError):
        return None


def _time(found: Any) -> int | None:
    if found is _ABSENT or found is None:
        return None
    if isinstance(found, str):
        return parse_time(found)
    if isinstance(found, bool) or not isinstance(found, int | float) or not -_TIME_MAX_MS < found < _TIME_MAX_MS:
        raise ValueError("its time is neither RFC 3339 text nor Unix time")
    return round(found * 1000) if abs(found) < _MS_FROM else round(found)
