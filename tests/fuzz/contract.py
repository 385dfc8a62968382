"""A parser as the fuzzer sees it: one entry point, the errors that it may raise, and words that its inputs are made of.

The entry point also tries the parser's laws (what it prints reads the same again, two ways to the same value agree), and says
with an AssertionError which of them broke.
"""

import contextlib
import shutil
import sys
import tempfile
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path

HERE = Path(__file__).parent
CORPORA, FAILED = HERE / "corpora", HERE / "failed"
NAMES = tuple(sorted(one.stem for one in (HERE / "parsers").glob("*.py") if one.stem != "__init__"))
ROOT = HERE.parents[1]
_MEMORY = Path("/dev/shm")  # noqa: S108 - each process makes a folder of its own there
# The made-up yards and certificates of the unit tests serve as starting points.
for _builders in ("page", "certificate", "journal"):
    sys.path.append(str(ROOT / "tests" / "unit" / _builders))


@dataclass(frozen=True)
class Parser:
    """A parser to be fuzzed.

    Attributes:
        read: Takes the bytes of an input.
        allowed: The errors that it may raise; anything else is a finding.
        seeds: Inputs to begin with.
        words: Pieces of inputs that a search would hardly guess.
        longest: The longest input that is tried, bytes.
        seconds: A run of a single input that takes longer is a finding.
        kept: The most bytes of its corpus.
    """

    read: Callable[[bytes], object]
    allowed: tuple[type[Exception], ...] = ()
    seeds: tuple[bytes, ...] = ()
    words: tuple[bytes, ...] = field(default=())
    longest: int = 4096
    seconds: int = 5
    kept: int = 7_000


def parser_of(name: str) -> Parser:
    """Return a parser by its name."""
    return import_module(f"tests.fuzz.parsers.{name}").PARSER


def tried(parser: Parser, data: bytes) -> Exception | None:
    """Have a parser read an input, and return what it must not have raised, or None."""
    try:
        parser.read(data)
    except parser.allowed:
        return None
    except Exception as fault:  # noqa: BLE001 - whatever else it is, it is a finding
        return fault
    return None


def where(fault: BaseException) -> str:
    """Return kind and place of a fault, the same for all inputs that lead there: the last line of ours on its way."""
    frames = traceback.extract_tb(fault.__traceback__)
    ours = [one for one in frames if "/monitor/" in one.filename]
    laws = [one for one in frames if "/fuzz/parsers/" in one.filename]
    last = (laws or frames)[-1] if isinstance(fault, AssertionError) else (ours or laws or frames)[-1]
    return f"{type(fault).__name__} at {last.filename.partition(str(ROOT) + '/')[2] or last.filename}:{last.lineno}"


@cache
def room() -> Path:
    """Return a folder in memory for files of this process, which goes with it."""
    import atexit

    made = Path(tempfile.mkdtemp(prefix="heaptender-fuzz-", dir=_MEMORY if _MEMORY.is_dir() else None))
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return made


def file_of(data: bytes, name: str = "input") -> Path:
    """Return a file with a content; the next call with the same name overwrites it."""
    path = room() / name
    path.write_bytes(data)
    return path


def parts(data: bytes, count: int) -> list[bytes]:
    """Split an input at its line feeds into so many parts; the last one keeps those that are left."""
    found = data.split(b"\n", count - 1)
    return found + [b""] * (count - len(found))


def text_of(data: bytes) -> str:
    """Return an input as a text; bytes that are no UTF-8 stand for themselves."""
    return data.decode("utf-8", "replace")


def all_allowed(allowed: tuple[type[Exception], ...], *calls: Callable[[], object]) -> None:
    """Make several calls; each may raise what is allowed without keeping the next one from being made."""
    for call in calls:
        with contextlib.suppress(*allowed):
            call()
