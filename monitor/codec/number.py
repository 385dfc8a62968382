"""Reads a payload that is nothing but a number; topic and configuration supply everything else.

Source of the number's form: RFC 8259 section 6, and beyond it a leading `+`, leading zeros and a bare point, as small
nodes print them. NaN and infinities are words, not numbers.
"""

import re

from monitor.codec.decoded import LIMIT_BYTES, Decoded, excerpt, rejected, timed_or_stale
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.units import to_micro

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_NUMBER_CHARACTERS = 64


def read_micro(text: str) -> int | None:
    """Return a decimal number as integer millionths, or None if the text is none or out of range."""
    if len(text) > _NUMBER_CHARACTERS or _NUMBER.fullmatch(text) is None:
        return None
    try:
        return to_micro(float(text))
    except ValueError:
        return None


class NumberDecoder:
    """Reads the payloads of one topic."""

    def __init__(
        self, address: str, quantity: str | None = None, unit: str | None = None, *, limit: int = LIMIT_BYTES
    ) -> None:
        """Take the facts from topic and configuration; `unit` is a code of `model.units`, None: the probe's."""
        self._address = address
        self._quantity = quantity
        self._unit = unit
        self._limit = limit

    def __call__(self, payload: bytes | bytearray, received: int, stale: bool = False) -> Decoded:  # noqa: ARG002
        """Return the value, which never has a time of its own (see `Decoder`)."""
        if len(payload) > self._limit:
            return rejected(SetAside.OVERSIZED, f"{len(payload)} bytes, at most {self._limit} are read", payload)
        try:
            text = payload.decode("utf-8").strip()
        except UnicodeDecodeError as fault:
            return rejected(SetAside.NOT_UTF8, f"byte {fault.start} is not UTF-8", payload)
        micro = read_micro(text)
        if micro is None:
            return rejected(SetAside.NOT_A_NUMBER, f"{excerpt(self._address)}: the payload is not a number", payload)
        heard = Heard(self._address, self._quantity, micro, self._unit, None)
        return timed_or_stale(heard, untimed=True, stale=stale, data=payload)
