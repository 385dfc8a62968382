"""Reads a serial stream: bytes to lines, and a line to values.

Rules: 1. A line ends at a line feed; a carriage return before it and empty lines mean nothing. 2. A line that begins
with `[` is a SenML JSON pack; any other is `probe quantity value unit [time]*CC`, words separated by blanks, the unit a
UCUM code or `-` for none, the time RFC 3339. 3. CC is the XOR of all bytes before `*`, as two hexadecimal digits
(the checksum of NMEA 0183; its form seen in many public descriptions, the standard itself not read). 4. Splitting does
not depend on how the bytes were cut into chunks. 5. Of a line that is too long only enough is kept to recognise it as such.
"""

from functools import reduce
from operator import xor

from monitor.codec.decoded import LIMIT_BYTES, NOTHING, Decoded, excerpt, is_word, rejected, timed_or_stale
from monitor.codec.number import read_micro
from monitor.codec.senml import decode_senml
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.times import parse_time, show_time

NO_UNIT = "-"
"""Stands in a line for the probe's own unit."""

_HEX = b"0123456789ABCDEFabcdef"


class LineSplitter:
    """Cuts a stream of bytes into lines; holds at most `limit` + 1 bytes of an unfinished one. Not for parallel use."""

    def __init__(self, limit: int = LIMIT_BYTES) -> None:
        """Begin with an empty line; a line longer than `limit` bytes comes out cut to `limit` + 1 of them."""
        self._limit = limit
        self._held = bytearray()

    def feed(self, chunk: bytes) -> list[bytes]:
        """Return the lines that a chunk completes, without their line feed."""
        if b"\n" not in chunk:
            self._hold(chunk)
            return []
        first, *middle, last = chunk.split(b"\n")
        self._hold(first)
        lines = [bytes(self._held), *(line[: self._limit + 1] for line in middle)]
        self._held = bytearray(last[: self._limit + 1])
        return lines

    def _hold(self, piece: bytes) -> None:
        self._held += piece[: self._limit + 1 - len(self._held)]

    def forget(self) -> None:
        """Drop the unfinished line: the stream was interrupted."""
        self._held.clear()


def checksum(body: bytes | bytearray) -> int:
    """Return the XOR of all bytes, 0 to 255."""
    return reduce(xor, body, 0)


def decode_line(line: bytes | bytearray, received: int, stale: bool = False, *, limit: int = LIMIT_BYTES) -> Decoded:
    """Decode a line (see `Decoder`).

    Args:
        line: The line, with or without its line end.
        received: Its arrival, UTC ms.
        stale: Whether its arrival does not reveal its time.
        limit: Longest line read, bytes.

    Returns:
        The values of the line; nothing for an empty one.
    """
    if len(line) > limit:
        return rejected(SetAside.OVERSIZED, f"a line of more than {limit} bytes", line)
    body = line.rstrip(b"\r\n\t ")
    if not body:
        return NOTHING
    if body.lstrip()[:1] == b"[":
        return decode_senml(body, received, stale, limit=limit)
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as fault:
        return rejected(SetAside.NOT_UTF8, f"byte {fault.start} is not UTF-8", body)
    covered, star, digits = body.rpartition(b"*")
    if not star or len(digits) != 2 or any(digit not in _HEX for digit in digits):
        return rejected(SetAside.MALFORMED, "no checksum: a line ends in * and two hexadecimal digits", text)
    right = checksum(covered)
    if int(digits, 16) != right:
        return rejected(SetAside.CHECKSUM, f"checksum {digits.decode()}, worked out {right:02X}", text)
    return _decode_words(text[: text.rindex("*")].split(), text, stale=stale)


def _decode_words(words: list[str], text: str, *, stale: bool) -> Decoded:
    if len(words) not in (4, 5) or not all(is_word(word) for word in words):
        return rejected(SetAside.MALFORMED, "not the words: probe quantity value unit [time]", text)
    address, quantity, value, unit = words[:4]
    micro = read_micro(value)
    if micro is None:
        return rejected(SetAside.NOT_A_NUMBER, f"{excerpt(address)}: {excerpt(value)} is not a number", text)
    time = None
    if len(words) == 5:
        try:
            time = parse_time(words[4])
        except ValueError as fault:
            return rejected(SetAside.MALFORMED, f"{excerpt(address)}: {excerpt(str(fault))}", text)
    heard = Heard(address, quantity, micro, None if unit == NO_UNIT else unit, time)
    return timed_or_stale(heard, untimed=time is None, stale=stale, data=text)


def encode_line(address: str, quantity: str, micro: int, unit: str | None, time: int | None = None) -> bytes:
    """Write one value as a line; `decode_line` reads the same value back.

    Args:
        address: The node's name for the probe: one printable word without blanks or `*`.
        quantity: Quantity's word.
        micro: Value in millionths of `unit`.
        unit: Unit code, or None for the probe's own.
        time: UTC ms, or None for a node without a clock.

    Returns:
        The line with its checksum and line feed.

    Raises:
        ValueError: A word holds blanks or cannot be sent.
    """
    whole, part = divmod(abs(micro), 1_000_000)
    number = f"{'-' if micro < 0 else ''}{whole}" + (f".{part:06d}".rstrip("0") if part else "")
    words = [address, quantity, number, unit or NO_UNIT]
    if time is not None:
        words.append(show_time(time))
    for word in words:
        if not is_word(word) or len(word.split()) != 1 or "*" in word or word.startswith("["):
            raise ValueError(f"{word!r} cannot be a word of a line")
    body = " ".join(words).encode()
    return body + b"*%02X\n" % checksum(body)
