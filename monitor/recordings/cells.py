"""A block of a CSV file as cells, without a Python object for each: times, numbers and texts by arithmetic on bytes.

Rules:
1. A block is cut at its separators. It is no grid if a row is not exactly as wide as the header, if it holds a quote or a
   NUL byte, or if it is not UTF-8; then it is read row by row.
2. Cells in the plain form (`2026-03-01T09:00:00.000Z` with or without thousandths; up to 8 digits with a point and up to 6
   more) are worked out for all rows at once, eight bytes at a time. Every other cell goes to the parser that also serves
   row by row, and only that parser finds faults.
"""

from collections.abc import Callable
from itertools import repeat
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.recordings.text_lines import LONGEST

Ints = NDArray[np.int64]
Words = NDArray[np.uint64]

LONGEST_TEXT = 64
"""Bytes that may be read from the beginning of a cell; the block is padded, so that they exist at the file's end too."""

_PAD = bytes(LONGEST_TEXT + 8)
_EIGHT = np.dtype("<u8")
_HIGH = np.uint64(0x8080808080808080)
_ZEROS = np.uint64(0x3030303030303030)  # the digit 0 eight times
_DOTS = np.uint64(0x2E2E2E2E2E2E2E2E)
_SIXES = np.uint64(0x7676767676767676)  # a byte above 9 reaches 128 when this is added
_U8, _U16, _U24, _U32, _U255 = (np.uint64(number) for number in (8, 16, 24, 32, 255))
_ONE, _TEN, _HUNDRED, _MILLION = (np.uint64(number) for number in (1, 10, 100, 1_000_000))
LOW_BYTES = np.array([(1 << 8 * n) - 1 for n in range(9)], dtype=np.uint64)
_HIGH_BYTES = np.array([((1 << 8 * n) - 1) << 8 * (8 - n) for n in range(9)], dtype=np.uint64)


class Cells(NamedTuple):
    """One column of a block: the index at which each of its cells begins, and the cell's length, in bytes."""

    data: bytes
    begin: Ints
    length: Ints

    def text(self, row: int) -> str:
        """Return one cell."""
        begin = int(self.begin[row])
        return self.data[begin : begin + int(self.length[row])].decode()

    def words(self, offset: Ints | int = 0) -> Words:
        """Return eight bytes of each cell from an offset on, the first of them lowest; they may reach beyond the cell."""
        # A view of eight bytes from every index; numpy reads only those that are asked for.
        all_of = np.ndarray((len(self.data) - 7,), dtype=_EIGHT, buffer=self.data, strides=(1,))
        found: Words = all_of[self.begin + offset].astype(np.uint64, copy=False)
        return found


def grid(raw: bytes, comma: str, width: int) -> list[Cells] | None:
    """Cut a block of whole lines into columns.

    Args:
        raw: The lines; the last may lack its line feed.
        comma: The separator, one character.
        width: Number of columns of the header.

    Returns:
        One entry for each column, or None if the block is not plain (see the module's rules).
    """
    if len(raw) > LONGEST or b'"' in raw or b"\x00" in raw:
        return None
    if not raw.isascii():
        try:
            raw.decode()
        except UnicodeDecodeError:
            return None
    data = b"".join((raw, b"" if raw.endswith(b"\n") else b"\n", _PAD))
    buffer = np.frombuffer(data, dtype=np.uint8)
    line_end = buffer == 10
    mark = buffer == ord(comma)
    mark |= line_end
    marks = np.flatnonzero(mark)
    if len(marks) % width:
        return None
    # Each row of this array is a column of the block.
    ends = np.ascontiguousarray(marks.reshape(-1, width).T)
    last = ends[-1]
    if not line_end[last].all() or np.count_nonzero(line_end) != len(last):
        return None
    begins = np.empty_like(ends)
    begins[1:] = ends[:-1] + 1
    begins[0, 0], begins[0, 1:] = 0, last[:-1] + 1
    lengths = ends - begins
    lengths[-1] -= buffer[last - 1] == 13
    return list(map(Cells, repeat(data), begins, lengths))


def instants(cells: Cells, other: Callable[[str], int], day: Callable[[int], int], empty: int | None = None) -> Ints:
    """Work out the times of a column.

    Args:
        cells: The column.
        other: Parses a cell that is not in the plain form.
        day: Returns the first instant of a day, UTC ms; the day is the number yyyymmdd.
        empty: Value of an empty cell, UTC ms; None: `other` parses it.

    Returns:
        UTC ms of each row.

    Raises:
        ValueError: From the parsers: a cell is no time.
    """
    date, clock, plain = _dates_and_clocks(cells)
    blank = cells.length == 0 if empty is not None else np.zeros(len(date), np.bool_)
    date[~plain] = 0
    first = np.flatnonzero(np.diff(date, prepend=-1))
    days = np.array([day(number) if number else 0 for number in date[first].tolist()], dtype=np.int64)
    found: Ints = np.repeat(days, np.diff(first, append=len(date))) + clock
    for row in np.flatnonzero(~(plain | blank)).tolist():
        found[row] = other(cells.text(row))
    if empty is not None:
        found[blank] = empty
    return found


def _dates_and_clocks(cells: Cells) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Return the date (yyyymmdd), the ms of the day and whether it is plain, of each cell of a column."""
    seconds = cells.words(16)
    short = cells.length == 20
    plain = short | (cells.length == 24)
    if short.any():
        plain &= ~short | ((seconds >> _U24) & _U255 == ord("Z"))
        seconds = np.where(short, (seconds & LOW_BYTES[3]) | _NO_THOUSANDTHS, seconds)
    dates, fine_date = _DATE.digits(cells.words())
    hours, fine_hour = _HOUR.digits(cells.words(8))
    rest, fine_rest = _SECOND.digits(seconds)
    century, year, month = dates[:, 0], dates[:, 2], dates[:, 5]
    day, hour, minute, second = hours[:, 0], hours[:, 3], hours[:, 6], rest[:, 1]
    date = ((century.astype(np.int64) * 100 + year) * 100 + month) * 100 + day
    of_second = rest[:, 3].astype(np.int64) * 100 + rest[:, 5]
    clock = ((hour.astype(np.int64) * 60 + minute) * 60 + second) * 1000 + of_second
    plain &= fine_date & fine_hour & fine_rest & (date > 0) & (hour < 24) & (minute < 60) & (second <= 60)
    return date, clock, plain


class _Form:
    """Eight bytes of a time: the places of its digits, and the required bytes in the other places."""

    def __init__(self, text: bytes) -> None:
        digit = bytes(255 if sign == ord("d") else 0 for sign in text)
        self._digit = np.uint64(int.from_bytes(digit, "little"))
        self._rest = np.uint64(int.from_bytes(bytes(255 - mask for mask in digit), "little"))
        self._signs = np.uint64(int.from_bytes(text.replace(b"d", b"\x00"), "little"))
        self._zeros = _ZEROS & self._digit

    def digits(self, words: Words) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
        """Return, for each place, ten times its digit plus the following one (a sign counts as 0), and whether all fit."""
        found = (words & self._digit) ^ self._zeros
        fine = (_beyond_nine(found) == 0) & ((words & self._rest) == self._signs)
        pairs = found * _TEN + (found >> _U8)
        return pairs.astype(_EIGHT).view(np.uint8).reshape(-1, 8), fine


_NO_THOUSANDTHS = np.uint64(int.from_bytes(b"\x00\x00\x00.000Z", "little"))
_DATE, _HOUR, _SECOND = _Form(b"dddd-dd-"), _Form(b"ddTdd:dd"), _Form(b":dd.dddZ")


def micros(cells: Cells, other: Callable[[str], int]) -> Ints:
    """Return the numbers of a column as integer millionths.

    Args:
        cells: The column.
        other: Parses a cell that is not in the plain form.

    Raises:
        ValueError: From the parser: a cell is no number.
    """
    word, length = cells.words(), cells.length
    sign = word & _U255
    negative = sign == ord("-")
    signs = (negative | (sign == ord("+"))).astype(np.int64)
    point = np.minimum(_first_of(word, _DOTS), length)
    whole, part = point - signs, np.maximum(length - point - 1, 0)
    # A number without a point in its first eight bytes must end there.
    plain = ((point < 8) | (length <= 8)) & (whole >= 0) & (part <= 6) & (whole + part > 0)
    shift = ((8 - point) * 8).astype(np.uint64)
    before = ((word << shift) ^ _ZEROS) & _HIGH_BYTES[np.clip(whole, 0, 8)]
    after = (cells.words(point + 1) ^ _ZEROS) & LOW_BYTES[np.minimum(part, 6)]
    plain &= (_beyond_nine(before) | _beyond_nine(after)) == 0
    # Six places behind the point are millionths; the two after them are empty, hence the division.
    found = (_number(before) * _MILLION + _number(after) // _HUNDRED).astype(np.int64)
    found = np.where(negative, -found, found)
    for row in np.flatnonzero(~plain).tolist():
        found[row] = other(cells.text(row))
    return found


def _beyond_nine(digits: Words) -> Words:
    """Return a word that differs from 0 if any of eight bytes is above 9."""
    return ((digits + _SIXES) | digits) & _HIGH


def _first_of(words: Words, wanted: np.uint64) -> Ints:
    """Return the place of the first of eight bytes that equals a wanted byte (given eight times in a word), 8 if none does."""
    other = words ^ wanted
    here = ~(((other & ~_HIGH) + ~_HIGH) | other | ~_HIGH)  # 128 in each byte that is 0, and 0 in the others
    below = (here & (~here + _ONE)) - _ONE
    return np.bitwise_count(below).astype(np.int64) >> 3


def _number(digits: Words) -> Words:
    """Return the number of eight digits, one a byte, the first of them lowest: pairs, fours, all."""
    pairs = (digits * _TEN + (digits >> _U8)) & np.uint64(0x00FF00FF00FF00FF)
    fours = (pairs * _HUNDRED + (pairs >> _U16)) & np.uint64(0x0000FFFF0000FFFF)
    return (fours * np.uint64(10_000) + (fours >> _U32)) & np.uint64(0xFFFFFFFF)
