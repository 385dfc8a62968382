"""A CSV recording as rows by column name, and the detection of a file's kind.

Rules:
1. The first line that is not blank names the columns; their order is free, unknown ones are ignored. Columns are
   separated as the header separates them: by commas, semicolons or tabs.
2. A row is one line, unless a quote stays open; then up to 50 lines belong to it. A quote that is never closed is a
   problem of its own line only.
3. Every field is data: a text that a spreadsheet would take for a formula is read and written as it is.
4. A line `sep=;` before the header names the separator, as some spreadsheets write it. A person may name the
   file's own columns, and a fixed value for a column that the file lacks (`sheet_forms`).
"""

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from monitor.model.errors import MisuseError
from monitor.model.work import WorkKind
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.formulas import MARK, as_written
from monitor.recordings.kinds import COLUMNS, INSTANTS, NEEDED, Kind
from monitor.recordings.parquet_files import ParquetTable, is_parquet, parquet_kind
from monitor.recordings.sheet_forms import (
    RECORDING,
    DateOrder,
    SheetForms,
    SheetQuestionError,
    SheetTimes,
    date_order,
)
from monitor.recordings.text_lines import Block, numbered_blocks, numbered_lines

_QUOTED_LINES = 50
QUOTE = '"'
_QUOTED = re.compile(r'"[^"]*"')
_SEPARATOR = re.compile(r'"?sep=([,;|\t])"?', re.IGNORECASE)
_NO_HEADER = "the first line is a row, not the names of the columns; write their names in a line above it, such as {}"
_NAME_THEM = (
    "; this one has {0}: say which is which (--column {1}=THEIRS), "
    "or what every row holds where it has none (--fill {1}={2})"
)
_FILL = {"quantity": "temperature", "unit": "F", "probe": "dial", "kind": WorkKind.TURNED.value, "place": "p1"}
"""An example value for each column that can be filled, for sentences."""

_SPECIAL = re.compile(r'[,;\t"\r\n]')


_NAMED_BY_PEOPLE = (Kind.READINGS, Kind.WORK)
"""Kinds that people keep in spreadsheets of their own; commands that read them take names of columns."""

_MOST_COLUMNS = 1_000


def sniff(path: Path, problems: Problems, forms: SheetForms = RECORDING) -> Kind | None:
    """Detect the kind of a recording by its first line.

    Args:
        path: The file: Parquet, or text, plain or gzip.
        problems: Receives the reason if the file is no recording.
        forms: A person's statements about how the file is written.

    Returns:
        The kind, or None after a problem.

    Raises:
        MisuseError: There is no such file, or it is no recording and the problems are strict.
        UnavailableError: The file cannot be read.
    """
    if is_parquet(path):
        return parquet_kind(path, problems)
    for number, text in numbered_lines(path, problems):
        if not text.strip() or _SEPARATOR.fullmatch(text.strip()) is not None:
            continue
        if text.lstrip().startswith("{"):
            return Kind.EVENTS
        columns, _ = _header(text)
        if len(columns) > _MOST_COLUMNS:
            said = f"it names {len(columns)} columns, and a recording at most {_MOST_COLUMNS}"
            problems.add(str(path), number, said)
            return None
        names = {kind: {*_named(columns, forms.for_kind(kind)), *forms.for_kind(kind).fills} for kind in NEEDED}
        for kind, needed in NEEDED.items():
            if names[kind].issuperset(needed):
                return kind
        near = max(NEEDED, key=lambda kind: len(names[kind].intersection(NEEDED[kind])) / len(NEEDED[kind]))
        missing = [name for name in NEEDED[near] if name not in names[near]]
        if len(missing) < len(NEEDED[near]) / 2:
            lacks = f"column {missing[0]} is" if len(missing) == 1 else f"columns {', '.join(missing)} are"
            said = f"the {lacks} missing, for {near}; the first line names {','.join(NEEDED[near])}"
            problems.add(str(path), number, said + _name_them(near, missing, columns))
            return None
        if _is_data(columns):
            problems.add(str(path), number, _NO_HEADER.format(",".join(NEEDED[Kind.READINGS])))
            return None
        wanted = "; ".join(f"{kind}: {','.join(needed)}" for kind, needed in NEEDED.items())
        said = f"{quoted(text)} is no header of a recording; it names columns ({wanted})"
        problems.add(str(path), number, f"{said}; say which is which with --column OURS=THEIRS and --fill OURS=VALUE")
        return None
    problems.add(str(path), 1, "the file is empty; its first line names the columns")
    return None


def row_line(fields: Iterable[str]) -> str:
    """Return one CSV row with its line end; quotes only the fields that need it."""
    return ",".join(f'"{text.replace(QUOTE, QUOTE * 2)}"' if _SPECIAL.search(text) else text for text in fields) + "\n"


class Table:
    """One CSV file of a known kind, read as a stream; iterate once."""

    def __init__(self, path: Path, kind: Kind, problems: Problems, forms: SheetForms = RECORDING) -> None:
        """Store the arguments; nothing is opened yet."""
        self.file = str(path)
        self._forms = forms.for_kind(kind)
        self._said_of_kind = forms.said_of(kind)
        self._kind = kind
        self._problems = problems
        self._before = len(problems)
        self._blocks = numbered_blocks(path, problems)
        self._held: Block | None = None  # read, but not parsed yet
        self._opened = b""  # the bytes from which `_texts` was made
        self._first, self._texts, self._taken = 0, list[str | None](), 0
        self.comma = ","
        self.width = 0
        self.wanted: list[int] = []
        self.filled: frozenset[str] = frozenset()
        """Columns that the file lacks and a person filled, known after `begin`."""
        self._filled: list[str] = []
        self.place: Callable[[Sequence[str]], tuple[int | None, str, bool]] | None = None
        """Finds the readable parts of a bad row; see `Problems.add`."""

    def begin(self) -> bool:
        """Read the header; it sets `comma`, `width` and `wanted` (the index of each of `COLUMNS`, -1: missing).

        Returns:
            False after a problem that leaves nothing to read.

        Raises:
            MisuseError, UnavailableError: As `numbered_lines`.
        """
        number, text, separator = self._header_line()
        if not number:
            if len(self._problems) == self._before:
                self._problems.add(self.file, 1, "the file is empty; its first line names the columns")
            return False
        columns, self.comma = _header(text, separator)
        if len(columns) > _MOST_COLUMNS:
            wanted = ",".join(COLUMNS[self._kind])
            said = f"the header names {len(columns)} columns, and a recording at most {_MOST_COLUMNS}; it has {wanted}"
            self._problems.add(self.file, number, said)
            return False
        names = _named(columns, self._forms)
        missing = [name for name in NEEDED[self._kind] if name not in names and name not in self._forms.fills]
        if missing and _is_data(columns):
            self._problems.add(self.file, number, _NO_HEADER.format(",".join(NEEDED[self._kind])))
            return False
        strange = [name for name in self._forms.columns.values() if _plain(name) not in columns]
        # Names given for this kind of files alone must occur in this file, even those of columns that may be missing.
        strange_here = [
            theirs
            for ours, theirs in self._said_of_kind.items()
            if _plain(theirs) not in columns and ours not in columns
        ]
        if strange_here or (strange and missing):
            there = ", ".join(quoted(name) for name in columns if name)
            said = f"the header has no column {quoted((strange_here or strange)[0])}; it has {there}"
            if missing and not strange_here and self._kind in _NAMED_BY_PEOPLE:
                said += f"; what holds for {self._kind} alone is named so: --column {self._kind}:{missing[0]}=THEIRS"
            self._problems.add(self.file, number, said)
            return False
        twice = sorted({name for name in names if name and names.count(name) > 1})
        if missing or twice:
            fault = f"has no column {', '.join(missing)}" if missing else f"names column {', '.join(twice)} twice"
            said = f"the header {fault}; a {self._kind} file has {','.join(COLUMNS[self._kind])}"
            self._problems.add(self.file, number, said + _name_them(self._kind, missing, columns))
            return False
        self.wanted = [names.index(name) if name in names else -1 for name in COLUMNS[self._kind]]
        self._filled = [self._forms.fills.get(name, "") for name in COLUMNS[self._kind]]
        self.filled = frozenset(self._forms.fills).difference(names)
        self.width = len(names)
        return True

    def _header_line(self) -> tuple[int, str, str]:
        """Return number and text of the header (0 at the file's end), and the separator if a line before names it."""
        separator = ""
        while True:
            number, text = self._next()
            said = _SEPARATOR.fullmatch(text.strip())
            if said is not None:
                separator = said[1]
            elif not number or text.strip():
                return number, text, separator

    def block(self) -> bytes | None:
        """Return the lines read but not yet taken, or else those of the next block; empty at the end.

        None: these lines can only be read by `rows`.
        """
        if self._held is None and self._taken < len(self._texts):
            # The header precedes these lines in the block.
            if None in self._texts:
                return None
            rest = self._opened.split(b"\n", self._taken)[-1]
            self._held = Block(self._first + self._taken, rest)
            self._texts, self._taken = [], 0
        if self._held is None:
            self._held = next(self._blocks, None)
        return b"" if self._held is None else self._held.raw

    def take(self) -> None:
        """Mark the lines of `block` as done."""
        self._held = None

    def rows(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Yield (line number, fields in the order of `COLUMNS`, missing ones empty) of every row of the block."""
        width, wanted, filled = self.width, self.wanted, self._filled
        if self._held is not None:
            self._open(self._held)
        while self._taken < len(self._texts):
            number, text = self._next()
            if not number:
                return
            fields = self._unquoted(number, text) if '"' in text else text.removesuffix("\r").split(self.comma)
            if fields is None or (not fields[0].strip() and not any(map(str.strip, fields))):
                continue
            if len(fields) != width:
                if len(fields) > width and any(map(str.strip, fields[width:])):
                    self._too_wide(number, fields)
                    continue
                fields = (fields + [""] * width)[:width]
            if MARK in text or QUOTE in text:
                fields = [as_written(one) for one in fields]
            yield number, [fields[i] if i >= 0 else filled[n] for n, i in enumerate(wanted)]

    def all_rows(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Yield the rows of the whole file; see `rows`."""
        if self.begin():
            while self.block() != b"":
                yield from self.rows()

    def _next(self) -> tuple[int, str]:
        """Return the next line that is text and its number, or (0, "") at the end."""
        while True:
            if self._taken >= len(self._texts):
                block = next(self._blocks, None)
                if block is None:
                    return 0, ""
                self._open(block)
            text = self._texts[self._taken]
            self._taken += 1
            if text is not None:
                return self._first + self._taken - 1, text

    def _open(self, block: Block) -> None:
        self._held, self._opened, self._taken = None, block.raw, 0
        self._first, self._texts = block.first, block.texts(self.file, self._problems)

    def _too_wide(self, number: int, fields: Sequence[str]) -> None:
        advice = f"put a text that holds {self.comma!r} in quotes"
        text = f"{len(fields)} columns, but the header names {self.width}; {advice}"
        if self.place is None:
            self._problems.add(self.file, number, text)
        else:
            time, probe, _ = self.place([fields[i] if i >= 0 else "" for i in self.wanted])
            self._problems.add(self.file, number, text, (time, probe, True))

    def _unquoted(self, number: int, text: str) -> list[str] | None:
        """Split a row with quotes; None after a problem."""
        whole = text
        taken: list[str] = []
        while whole.count(QUOTE) % 2:
            following, more = self._next() if len(taken) < _QUOTED_LINES else (0, "")
            if not following:
                self._give_back(number, taken)
                advice = 'write "" for a quote in a text'
                self._problems.add(self.file, number, f"a quote is opened and never closed; {advice}")
                return None
            taken.append(more)
            whole += "\n" + more
        try:
            return next(csv.reader([whole.removesuffix("\r")], delimiter=self.comma, strict=True))
        except csv.Error as fault:
            advice = 'put the whole text in quotes, "" for a quote'
            self._problems.add(self.file, number, f"not a CSV row ({fault}); {advice}")
            return None

    def _give_back(self, number: int, texts: list[str]) -> None:
        """Put lines that were taken to find the end of a quote back before those still to come."""
        self._texts = [*texts, *self._texts[self._taken :]]
        self._first, self._taken = number + 1, 0


def _header(text: str, separator: str = "") -> tuple[list[str], str]:
    """Return the columns that a header names, in small letters, and its separator."""
    bare = _QUOTED.sub("", text)
    comma = separator or next((sign for sign in ",;\t" if sign in bare), ",")
    return [_plain(name) for name in header_fields(text, comma)], comma


def header_fields(text: str, comma: str = ",") -> list[str]:
    """Return the fields of a header; one whose quotes make no sense is cut at each separator, and names no column of ours."""
    text = text.rstrip("\r\n")
    try:
        return next(csv.reader([text], delimiter=comma), []) if QUOTE in text else text.split(comma)
    except csv.Error:
        return text.split(comma)


def _plain(name: str) -> str:
    return name.strip().strip(QUOTE).strip().lower()


def _named(columns: Sequence[str], forms: SheetForms) -> list[str]:
    """Return the columns by our names, as a person assigned them; another column of such a name in the file is none of ours."""
    # A name given for one file need not occur in others that use our own names.
    ours = {_plain(theirs): name for name, theirs in forms.columns.items() if _plain(theirs) in columns}
    taken = set(ours.values())
    return [ours.get(name, "" if name in taken else name) for name in columns]


def _name_them(kind: Kind, missing: Sequence[str], columns: Sequence[str]) -> str:
    """Return the end of a sentence: how to supply the columns that a file lacks."""
    if not missing or kind not in _NAMED_BY_PEOPLE:
        return ""
    return _NAME_THEM.format(quoted(",".join(columns)), missing[0], _FILL.get(missing[0], "VALUE"))


def _is_data(columns: Sequence[str]) -> bool:
    """Return whether the line that should name the columns looks like a row: it holds a number or a time."""
    return any(name[:1].isdigit() or (name[:1] in "+-" and name[1:2].isdigit()) for name in columns)


def sheet_times(path: Path, kind: Kind, forms: SheetForms) -> SheetTimes:
    """Make the parser of a file's times; for the order of day and month it reads all dates of the file.

    The file is read a second time only if a date needs that. The parser then raises `MisuseError` (the file has dates in
    both orders) or `UnavailableError` (it cannot be read).

    Args:
        path: The file; a pipe cannot be read twice, so its order must be stated.
        kind: Kind of the file.
        forms: A person's statements about how the file is written.

    Returns:
        The parser.
    """
    if not path.is_file() or is_parquet(path):
        return SheetTimes(forms)  # a pipe can be read once only, and the instants of Parquet have one meaning

    def look() -> DateOrder | None:
        times = [n for n, name in enumerate(COLUMNS[kind]) if name in INSTANTS]
        rows = Table(path, kind, Problems(), forms).all_rows()
        try:
            return date_order((line, row[n]) for line, row in rows for n in times)
        except SheetQuestionError as question:
            raise MisuseError(f"{path}: {question}.") from None

    return SheetTimes(forms, look)


def table_of(path: Path, kind: Kind, problems: Problems, forms: SheetForms = RECORDING) -> Table | ParquetTable:
    """Return a file of a known kind as a table of texts, be it CSV or Parquet; nothing is opened yet but its first bytes.

    Args:
        path: The file.
        kind: Its kind.
        problems: Receives what makes it or a row unreadable.
        forms: A person's statements about how a CSV file is written; Parquet needs none.
    """
    return ParquetTable(path, kind, problems) if is_parquet(path) else Table(path, kind, problems, forms)
