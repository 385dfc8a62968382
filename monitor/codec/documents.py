"""Reads a JSON document from outside within bounds, carefully: the slow way that every odd message takes.

Rules: 1. Size, text encoding (RFC 8259 section 8.1: UTF-8) and nesting are checked before the parser runs, so that it
cannot run out of stack. 2. An object whose labels repeat is marked, not silently overwritten (RFC 8259 section 4:
labels should be unique). 3. Numbers beyond a double become infinite, and NaN stays NaN: the user of the value
rejects it there, and the rest of the document stays readable.
"""

import json
import re
from typing import Any, NamedTuple

from monitor.codec.decoded import LIMIT_DEPTH, Reject, excerpt
from monitor.model.quarantine import SetAside

# A string ends at its quote or at the end of the text, so the scan is linear on any input.
_STRUCTURE = re.compile(r'"(?:[^"\\]++|\\.?)*+"?|[\[\]{}]', re.DOTALL)

_EXACT_DIGITS = 18


class Repeated(dict[str, Any]):
    """A JSON object with repeated labels; `labels` names them."""

    labels: frozenset[str] = frozenset()


class Document(NamedTuple):
    """A readable document."""

    value: Any

    @property
    def repeated(self) -> bool:
        """Whether any object in it repeats a label."""
        waiting = [self.value]
        while waiting:
            one = waiting.pop()
            if isinstance(one, Repeated):
                return True
            if isinstance(one, dict):
                waiting += one.values()
            elif isinstance(one, list):
                waiting += one
        return False


def depth_of(text: str, bound: int) -> int:
    """Return the nesting depth of a JSON text, or the first depth beyond `bound`."""
    if text.count("[") + text.count("{") <= bound:
        return 0
    depth = deepest = 0
    for found in _STRUCTURE.finditer(text):
        sign = found[0][0]
        if sign in "[{":
            depth += 1
            if depth > deepest:
                deepest = depth
                if deepest > bound:
                    break
        elif sign in "]}":
            depth -= 1
    return deepest


def _integer(digits: str) -> int | float:
    return int(digits) if len(digits) <= _EXACT_DIGITS else float(digits)


def _collect(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    plain = dict(pairs)
    if len(plain) == len(pairs):
        return plain
    marked = Repeated(plain)
    seen: set[str] = set()
    marked.labels = frozenset(label for label, _ in pairs if label in seen or seen.add(label))  # type: ignore[func-returns-value]
    return marked


_decode = json.JSONDecoder(object_pairs_hook=_collect, parse_int=_integer).decode


def read_document(payload: bytes | bytearray, limit: int) -> Document | Reject:
    """Return the document in a payload of at most `limit` bytes, or why it cannot be read."""
    if len(payload) > limit:
        return Reject(SetAside.OVERSIZED, f"{len(payload)} bytes, at most {limit} are read", excerpt(payload))
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as fault:
        return Reject(SetAside.NOT_UTF8, f"byte {fault.start} is not UTF-8", excerpt(payload))
    if depth_of(text, LIMIT_DEPTH) > LIMIT_DEPTH:
        return Reject(SetAside.DEEPLY_NESTED, f"more than {LIMIT_DEPTH} levels deep", excerpt(text))
    try:
        return Document(_decode(text))
    except ValueError as fault:
        return Reject(SetAside.MALFORMED, f"not JSON: {excerpt(str(fault))}", excerpt(text))
