"""Reads a SenML JSON pack (RFC 8428; the numbers of its sections are from memory).

Rules: 1. Base fields hold for their own record and all later ones until replaced (section 4.1). 2. A name is base name
and name together, of the characters of section 4.5.1. 3. A time below 2^28 counts from the arrival, and is therefore
no time of its own; 0 or none means *now* (section 4.5.3). 4. A record without `v` is no reading: a carrier of base
fields, a sum, a text, a truth or data. 5. A bad record is set aside alone; a bad base field spoils the later records
that use it. 6. A pack of another version (section 4.4), or with labels that must be understood among its base
fields (a name in `b…_`), is not used from there on. 7. One name may carry several units: the unit then decides the
quantity, if it belongs to only one.

The commonest pack, one plain record, takes a short way that gives up on anything unusual; the careful way then decides.
"""

import json
import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from monitor.codec.decoded import (
    LIMIT_BYTES,
    LIMIT_REJECTS,
    Decoded,
    Reject,
    excerpt,
    no_time_detail,
    rejected,
)
from monitor.codec.documents import Repeated, read_document
from monitor.codec.senml_units import NOT_SENML, SENML_UNITS
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

RELATIVE_BELOW_S = 2**28
"""Times below this many seconds count from now. Source: RFC 8428 section 4.5.3."""

VERSION = 10
"""Newest version understood, and the default. Source: RFC 8428 section 4.4."""

_TIME_S_MAX = 253_402_300_800  # the end of the year 9999
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")  # RFC 8428 section 4.5.1
_UNIT = re.compile(r"[!-~]{1,32}")
_VALUES = ("v", "vs", "vb", "vd")
_KNOWN = frozenset({"bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut"})
_CAREFUL = _KNOWN - {"bn", "bt", "bu", "bver", "n", "u", "v", "t", "ut"}
_NUMBERS = frozenset({int, float})
_MICRO_MAX = 10**18
_raw_decode = json.JSONDecoder().raw_decode


def decode_senml(
    payload: bytes | bytearray, received: int, stale: bool = False, *, limit: int = LIMIT_BYTES
) -> Decoded:
    """Decode a SenML JSON pack.

    Args:
        payload: The message.
        received: Its arrival, UTC ms; relative times count from here.
        stale: Whether its arrival does not reveal its time (see `Decoder`).
        limit: Longest message read, bytes.

    Returns:
        The values of the pack, and its bad records.
    """
    if len(payload) <= limit:
        plain = _one_plain_record(payload, received)
        if plain is not None and not (stale and plain.untimed):
            return plain
    document = read_document(payload, limit)
    if isinstance(document, Reject):
        return Decoded((), (document,))
    pack = document.value
    if not isinstance(pack, list) or not pack:
        return rejected(SetAside.MALFORMED, "not a SenML pack: an array of records", payload)
    fault = _version_fault(pack)
    if fault:
        return rejected(SetAside.MALFORMED, fault, payload)
    walk = _Walk(received, stale)
    for record in pack:
        walk.take(record)
    return walk.result()


def _one_plain_record(payload: bytes | bytearray, received: int) -> Decoded | None:
    """Return a pack of one ordinary record, or None if the careful way must decide."""
    try:
        text = payload.decode()
        # With one bracket of each kind nothing is nested, so the parser cannot run out of stack.
        if text.count("{") != 1 or text.count("[") != 1:
            return None
        pack, end = _raw_decode(text)
        (record,) = pack
        return _read_plain(record, text, received) if end == len(text) else None
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return None


def _read_plain(record: dict[str, Any], text: str, received: int) -> Decoded | None:
    name = record.get("bn", "") + record.get("n", "")
    base_time = record.get("bt", 0)
    time = record.get("t", 0)
    value = record["v"]
    code, one, offset, quantity = SENML_UNITS[record["u"] if "u" in record else record["bu"]]
    # Every label and every text has two quotes; further quotes mean that a label is repeated.
    texts = [type(one) for one in record.values()].count(str)
    if (
        text.count('"') != 2 * (len(record) + texts)
        or not _ordinary(tuple(record))
        or not _good_name(name)
        or type(value) not in _NUMBERS
        or type(time) not in _NUMBERS
        or type(base_time) not in _NUMBERS
        or ("bver" in record and not _understood(record["bver"]))
    ):
        return None
    scaled = value * one
    when = base_time + time
    if not (-_MICRO_MAX < scaled < _MICRO_MAX and -_TIME_S_MAX < when < _TIME_S_MAX):
        return None
    micro = round(scaled) + offset
    if when >= RELATIVE_BELOW_S:
        return Decoded((Heard(name, quantity, micro, code, round(when * 1000)),), ())
    return Decoded((Heard(name, quantity, micro, code, received + round(when * 1000) if when else None),), (), True)


@lru_cache(1_024)
def _ordinary(labels: tuple[str, ...]) -> bool:
    """Return whether all labels of a record are ordinary ones, or may be ignored (section 4.4)."""
    return not any(label in _CAREFUL or label.endswith("_") for label in labels)


@lru_cache(4_096)
def _good_name(name: str) -> bool:
    return _NAME.fullmatch(name) is not None


def _understood(version: Any) -> bool:
    return type(version) is int and 1 <= version <= VERSION


def _version_fault(pack: list[Any]) -> str:
    """Return why a pack's version forbids its use, or "" (RFC 8428 section 4.4)."""
    versions = [record["bver"] for record in pack if isinstance(record, dict) and "bver" in record]
    for version in versions:
        if type(version) is not int or version < 1:
            return f"version {excerpt(str(version))} is not a positive integer"
        if version > VERSION:
            return f"version {version}, at most {VERSION} is understood"
    if any(version != versions[0] for version in versions):
        return "records of several versions in one pack"
    return ""


class _Unusable:
    """Stands for a bad base field: a value of its own, so that no record can use it."""


_UNUSABLE = _Unusable()


def _number(record: dict[str, Any], label: str) -> int | float | _Unusable:
    value = record[label]
    if type(value) not in _NUMBERS or not -_MICRO_MAX < value < _MICRO_MAX:
        return _UNUSABLE
    return value  # type: ignore[no-any-return]


def _text(record: dict[str, Any], label: str) -> str | _Unusable:
    value = record[label]
    return value if isinstance(value, str) else _UNUSABLE


@dataclass(slots=True)
class _Walk:
    """Reads a pack's records in order and keeps the base fields in force."""

    received: int
    stale: bool
    base_name: str | _Unusable = ""
    base_time: int | float | _Unusable = 0
    base_unit: str | _Unusable | None = None
    base_value: int | float | _Unusable = 0
    spoiled: str = ""
    untimed: bool = False
    heard: list[Heard] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    untold: int = 0

    def take(self, record: Any) -> None:
        """Take the next record: keep its base fields, and its reading or the reason why it has none."""
        if not isinstance(record, dict):
            self._reject(SetAside.MALFORMED, "a record is not an object", record)
            return
        repeated = record.labels if isinstance(record, Repeated) else frozenset()
        self._keep_bases(record, repeated)
        strange = [label for label in record if label.endswith("_") and label not in _KNOWN]
        if strange and any(label.startswith("b") for label in strange):
            self.spoiled = f"the label {excerpt(strange[0])} must be understood and is not"
        if self.spoiled:
            self._reject(SetAside.MALFORMED, self.spoiled, record)
        elif strange:
            self._reject(SetAside.MALFORMED, f"the label {excerpt(strange[0])} must be understood and is not", record)
        elif repeated:
            self._reject(SetAside.MALFORMED, f"the label {excerpt(min(repeated))} stands twice", record)
        else:
            self._read(record)

    def _keep_bases(self, record: dict[str, Any], repeated: frozenset[str]) -> None:
        if "bn" in record:
            self.base_name = _UNUSABLE if "bn" in repeated else _text(record, "bn")
        if "bu" in record:
            self.base_unit = _UNUSABLE if "bu" in repeated else _text(record, "bu")
        if "bt" in record:
            self.base_time = _UNUSABLE if "bt" in repeated else _number(record, "bt")
        if "bv" in record:
            self.base_value = _UNUSABLE if "bv" in repeated else _number(record, "bv")

    def _read(self, record: dict[str, Any]) -> None:
        values = [label for label in _VALUES if label in record]
        if len(values) > 1:
            self._reject(SetAside.MALFORMED, f"both {values[0]} and {values[1]} in one record", record)
            return
        if values != ["v"]:
            return
        own_name = _text(record, "n") if "n" in record else ""
        if isinstance(self.base_name, _Unusable) or isinstance(own_name, _Unusable):
            self._reject(SetAside.MALFORMED, "its name or base name is not a text", record)
            return
        name = self.base_name + own_name
        if _NAME.fullmatch(name) is None:
            self._reject(SetAside.MALFORMED, f"{excerpt(name)!r} is not a SenML name", record)
            return
        own_value = _number(record, "v")
        if isinstance(self.base_value, _Unusable) or isinstance(own_value, _Unusable):
            self._reject(SetAside.NOT_A_NUMBER, f"{name}: its value or base value is not a usable number", record)
            return
        unit = _text(record, "u") if "u" in record else self.base_unit
        own_time = _number(record, "t") if "t" in record else 0
        if isinstance(self.base_time, _Unusable) or isinstance(own_time, _Unusable):
            self._reject(SetAside.MALFORMED, f"{name}: its time or base time is not a usable number", record)
            return
        self._hear(name, self.base_value + own_value, unit, self.base_time + own_time, record)

    def _hear(self, name: str, value: float, unit: str | _Unusable | None, when: float, record: dict[str, Any]) -> None:
        if isinstance(unit, _Unusable) or (unit is not None and _UNIT.fullmatch(unit) is None):
            self._reject(SetAside.MALFORMED, f"{name}: its unit is not a unit symbol", record)
            return
        if unit in NOT_SENML:
            self._reject(SetAside.WRONG_UNIT, f"{name}: {unit} is not the SenML symbol of a unit known here", record)
            return
        known = SENML_UNITS.get(unit) if unit is not None else None
        scaled = value * (known.micro if known else 1_000_000)
        if not -_MICRO_MAX < scaled < _MICRO_MAX:
            self._reject(SetAside.NOT_A_NUMBER, f"{name}: its value is beyond use", record)
            return
        if not -_TIME_S_MAX < when < _TIME_S_MAX:
            self._reject(SetAside.ABSURD_TIME, f"{name}: its time is beyond the year 9999", record)
            return
        untimed = when < RELATIVE_BELOW_S
        if untimed and self.stale:
            self._reject(SetAside.NO_TIME, no_time_detail(name), record)
            return
        self.untimed = self.untimed or untimed
        time = None if when == 0 else round(when * 1000) + (self.received if untimed else 0)
        if known is None:
            self.heard.append(Heard(name, None, round(scaled), unit, time))
        else:
            self.heard.append(Heard(name, known.quantity, round(scaled) + known.offset, known.code, time))

    def _reject(self, reason: SetAside, detail: str, record: Any) -> None:
        if len(self.rejects) < LIMIT_REJECTS:
            self.rejects.append(Reject(reason, detail, excerpt(json.dumps(record, ensure_ascii=False))))
        else:
            self.untold += 1

    def result(self) -> Decoded:
        """Return everything taken so far."""
        if self.untold:
            last = self.rejects[-1]
            self.rejects[-1] = last._replace(detail=f"{last.detail}; and {self.untold} more of this message")
        return Decoded(tuple(self.heard), tuple(self.rejects), self.untimed)
