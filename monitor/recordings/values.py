"""Numbers and times as text, exactly: no float is ever involved; and texts that a file can hold."""

import re
from collections.abc import Callable

from monitor.model.times import parse_time
from monitor.model.units import MICRO, divide_half_even
from monitor.recordings.file_problems import quoted

_NUMBER = re.compile(r"([+-]?)(\d{0,40})(?:\.(\d{0,40}))?(?:[eE]([+-]?\d{1,3}))?", re.ASCII)
_LARGEST = 10**18
_REMEMBERED = 65_536


def parse_micro(text: str) -> int:
    """Return a decimal number as integer millionths; digits beyond are rounded half-even, once.

    Raises:
        ValueError: The text is not a plain number, or not within a million million.
    """
    found = _NUMBER.fullmatch(text)
    if found is None or not (found[2] or found[3]):
        hint = "; write a point for the decimals" if re.fullmatch(r"[+-]?\d+,\d+", text, re.ASCII) else ""
        raise ValueError(f"{quoted(text)} is not a number like 55 or 55.0625{hint}")
    sign, whole, part, power = found.groups()
    part = part or ""
    digits = int(whole + part or "0")
    exponent = int(power or "0") - len(part) + 6
    if exponent > 30 and digits:
        raise ValueError(f"{quoted(text)} is not within a million million")
    micro: int = digits * 10**exponent if 0 <= exponent <= 30 else divide_half_even(digits, 10 ** max(0, -exponent))
    if micro >= _LARGEST:
        raise ValueError(f"{quoted(text)} is not within a million million")
    return -micro if sign == "-" else micro


def show_micro(micro: int) -> str:
    """Return integer millionths as the shortest exact decimal number."""
    whole, part = divmod(abs(micro), MICRO)
    sign = "-" if micro < 0 else ""
    return f"{sign}{whole}.{part:06d}".rstrip("0") if part else f"{sign}{whole}"


def storable(text: str) -> str:
    """Return a text that can stand in a UTF-8 file: a NUL or half a surrogate pair becomes U+FFFD."""
    if "\x00" in text:
        text = text.replace("\x00", "\ufffd")
    try:
        text.encode()
    except UnicodeEncodeError:
        return "".join("\ufffd" if "\ud800" <= sign <= "\udfff" else sign for sign in text)
    return text


class Memo(dict[str, int]):
    """Remembers a parser's result for each text: a recording repeats its values over and over.

    Reading is by subscription, so that a whole column can be looked up without a Python call for each of its values.
    """

    __slots__ = ("_parse",)

    def __init__(self, parse: Callable[[str], int]) -> None:
        """Start empty; texts that raise are not remembered."""
        super().__init__()
        self._parse = parse

    def __missing__(self, text: str) -> int:
        known = self._parse(text)
        if len(self) >= _REMEMBERED:
            self.clear()
        self[text] = known
        return known


class Times:
    """Parses RFC 3339 times; remembers the minute and the rest apart, since both come again and again."""

    __slots__ = ("_minute", "_rest")

    def __init__(self) -> None:
        """Start empty."""
        self._minute = Memo(lambda text: parse_time(text + ":00Z"))
        self._rest = Memo(lambda text: parse_time("2000-01-01T00:00" + text) - parse_time("2000-01-01T00:00:00Z"))

    def __call__(self, text: str) -> int:
        """Return UTC milliseconds.

        Raises:
            ValueError: The text is not an RFC 3339 time.
        """
        try:
            return self._minute[text[:16]] + self._rest[text[16:]]
        except ValueError:
            try:
                return parse_time(text)  # the time may be a known one with blanks around it
            except ValueError:
                raise ValueError(f"{quoted(text)} is not a time like 2026-03-01T09:00:00Z (date, time, zone)") from None
