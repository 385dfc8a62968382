"""A recording as numbered lines of text: plain or gzip, with or without a byte order mark, whatever its line ends.

Rules:
1. A line that cannot be text (not UTF-8, a NUL byte, beyond 1 MiB) is a problem of that line; the next one is read.
2. A damaged gzip file ends at the damage; the lines before it have been read.
3. A missing file is a misuse; a file that cannot be read is `UnavailableError`.
"""

import gzip
import io
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np

from monitor.model.errors import MisuseError, UnavailableError
from monitor.recordings.file_problems import Problems

LONGEST = 1 << 23
"""Longest line in bytes."""

SWELLS = 200
"""Most times its size that a gzip file may unpack to (our choice): a season of one unchanging probe comes to about 30."""

_SMALL = 64 << 20  # a file that unpacks to no more than this is harmless however small it was
_BLOCK = 1 << 19
_UNPACKED = 1 << 18  # small, because damage loses the bytes unpacked since the block before
_GZIP = b"\x1f\x8b"
_BOM = b"\xef\xbb\xbf"
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


class Block(NamedTuple):
    """Consecutive whole lines: the number of the first one, from 1, and their bytes."""

    first: int
    raw: bytes

    def texts(self, file: str, problems: Problems) -> list[str | None]:
        """Return the lines without their line feed (a carriage return stays); a line that is no text is None, and a problem.

        Raises:
            MisuseError: A line is no text, and the problems are strict.
        """
        return _texts(self.raw, file, self.first, problems)

    def lines(self) -> int:
        """Return the number of lines; the last one of a file may lack its line feed."""
        return int(np.count_nonzero(np.frombuffer(self.raw, np.uint8) == 10)) + (not self.raw.endswith(b"\n"))


def numbered_lines(path: Path, problems: Problems, what: str = "recording") -> Iterator[tuple[int, str]]:
    """Yield (line number from 1, text without its line feed) of every line that is text; a carriage return stays.

    Args:
        path: The file, plain or gzip.
        problems: Receives lines that are no text.
        what: The kind of file, for the sentence about one that is not there.

    Raises:
        MisuseError: There is no such file, or a line is bad and the problems are strict.
        UnavailableError: The file cannot be read.
    """
    for block in numbered_blocks(path, problems, what):
        for number, text in enumerate(block.texts(str(path), problems), block.first):
            if text is not None:
                yield number, text


def numbered_blocks(path: Path, problems: Problems, what: str = "recording") -> Iterator[Block]:
    """Yield a file's lines, some hundreds or thousands at a time.

    Args:
        path: The file, plain or gzip.
        problems: Receives what makes it unreadable.
        what: The kind of file, for the sentence about one that is not there.

    Raises:
        MisuseError: There is no such file, or it is unreadable and the problems are strict.
        UnavailableError: The file cannot be read.
    """
    file = str(path)
    number = 1
    try:
        with _opened(path) as read:
            for raw in _whole_lines(read):
                if number == 1 and raw.startswith(_UTF16):
                    problems.add(file, 1, "the file is UTF-16; save it as CSV in UTF-8")
                    return
                block = Block(number, raw.removeprefix(_BOM) if number == 1 else raw)
                yield block
                number += block.lines()
    except (EOFError, zlib.error, gzip.BadGzipFile):
        problems.add(file, number, "the gzip file is damaged or cut off here; copy it again")
    except (FileNotFoundError, IsADirectoryError) as fault:
        raise MisuseError(f"{file} is not there or no file; name a {what}") from fault
    except OSError as fault:
        raise UnavailableError(f"{file} cannot be read: {fault.strerror or fault}") from fault


@contextmanager
def _opened(path: Path) -> Iterator[Callable[[], bytes]]:
    """Open a file and yield a function that returns its next bytes, empty at its end."""
    with io.BufferedReader(io.FileIO(path), _BLOCK) as plain:
        if plain.peek(2)[:2] != _GZIP:
            yield partial(plain.read1, _BLOCK)
            return
        size = min(_BLOCK, _UNPACKED)
        # A pipe has no size to compare with.
        most = max(_SMALL, path.stat().st_size * SWELLS) if path.is_file() else 1 << 62
        with gzip.GzipFile(fileobj=plain) as packed, io.BufferedReader(packed, size) as unpacked:
            left = most

            def read() -> bytes:
                nonlocal left
                found = unpacked.read1(size)
                left -= len(found)
                if left < 0:
                    raise MisuseError(f"{path} unpacks to more than {SWELLS} times its size; no recording does that.")
                return found

            yield read


def _whole_lines(read: Callable[[], bytes]) -> Iterator[bytes]:
    """Yield blocks that end with a line; a line that is too long is cut one byte beyond the limit."""
    parts: list[bytes] = []
    length = 0
    while chunk := read():
        end = chunk.rfind(b"\n") + 1
        if end:
            yield b"".join((*parts, memoryview(chunk)[:end]))
            parts, length = [], 0
        if length <= LONGEST:
            parts.append(chunk[end:])
            length += len(chunk) - end
    if length:
        yield b"".join(parts)


def _texts(block: bytes, file: str, number: int, problems: Problems) -> list[str | None]:
    block = block.removesuffix(b"\n")
    if b"\x00" not in block and len(block) <= LONGEST:
        try:
            return [*block.decode().split("\n")]
        except UnicodeDecodeError:
            pass  # the search line by line below finds the bad line
    return [_text(line, file, number + i, problems) for i, line in enumerate(block.split(b"\n"))]


def _text(raw: bytes, file: str, number: int, problems: Problems) -> str | None:
    if len(raw) > LONGEST:
        problems.add(file, number, f"the line is longer than {LONGEST} bytes; a row has a few dozen")
        return None
    if b"\x00" in raw:
        problems.add(file, number, "the line holds a NUL byte; a recording is plain text")
        return None
    try:
        return raw.decode()
    except UnicodeDecodeError as fault:
        problems.add(file, number, f"byte {fault.start + 1} is not UTF-8; save the file as CSV in UTF-8")
        return None
