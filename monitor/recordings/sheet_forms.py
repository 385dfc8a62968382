"""The forms of spreadsheets: dates in a country's own order, local times, day numbers, decimal commas.

Rules:
1. A cell with only one reading is read. For a cell with two readings a person is asked (`SheetQuestionError`), once for a
   whole file, and nothing of the file is taken until the answer is given.
2. RFC 3339 needs no answer, nor does any time that names its zone. A time without a zone is in the zone that a person named,
   or in the site's own.
3. `31.12.2026` is day first, since no country writes months first with points. With slashes or hyphens the order is that of the
   dates in the file that have only one reading, wherever they stand; if such dates show both orders, a person is asked.
4. A plain number from 36526 to 99999 in a time column is a spreadsheet's day number: days since 1899-12-30, local time, to the
   second (common practice, no published source).
5. A local time that came twice or never, when clocks were changed, is refused row by row.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.model.errors import MisuseError
from monitor.model.times import parse_time
from monitor.recordings.file_problems import quoted
from monitor.recordings.values import Times, parse_micro

_DATE = re.compile(
    r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})"
    r"(?:(?:,?\s+|[Tt])(\d{1,2})[:.](\d\d)(?:[:.](\d\d)(?:[.,](\d{1,6}))?)?\s*([AaPp])?\.?(?:[Mm]\.?)?)?"
    r"\s*([Zz]|[+-]\d\d:?\d\d)?",
    re.ASCII,
)
_DAY_NUMBER = re.compile(r"(\d{5})(?:[.,](\d{1,15}))?", re.ASCII)
_FIRST_DAY_NUMBER = 36_526  # 2000-01-01
_DAY_ZERO = datetime(1899, 12, 30)  # noqa: DTZ001 (a spreadsheet's days have no zone)
_COMMA = re.compile(r"[+-]?\d*,(\d+)", re.ASCII)
_WANTED = "write 2026-03-01T09:00:00Z, or date and time as your spreadsheet does"


class DateOrder(StrEnum):
    """Order of day and month in a date with slashes or hyphens."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


class SheetQuestionError(ValueError):
    """A cell could be read in two ways; the text asks, and says how to answer."""

    def misuse(self, file: str, line: int) -> MisuseError:
        """Return the error that ends the reading of a file."""
        return MisuseError(f"{file} line {line}: {self}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetForms:
    """A person's statements about how a file is written.

    Attributes:
        time_zone: IANA zone of times that name none, or "".
        order: Of day and month, or None if nobody said.
        columns: Name in the file by our name of the column.
        fills: Value of every row in a column that the file lacks, by our name of it.
        of_kind: Statements about one kind of files alone (`readings`, `work`, `labels`); they take precedence.
    """

    time_zone: str = ""
    order: DateOrder | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    fills: Mapping[str, str] = field(default_factory=dict)
    of_kind: Mapping[str, "SheetForms"] = field(default_factory=dict)

    def for_kind(self, kind: str) -> "SheetForms":
        """Return the statements that hold for one kind of files."""
        own = self.of_kind.get(kind)
        if own is None:
            return self
        columns = {ours: theirs for ours, theirs in self.columns.items() if ours not in own.fills}
        fills = {ours: value for ours, value in self.fills.items() if ours not in own.columns}
        return replace(self, columns={**columns, **own.columns}, fills={**fills, **own.fills})

    def said_of(self, kind: str) -> Mapping[str, str]:
        """Return the columns that were named for one kind of files alone."""
        return self.of_kind[kind].columns if kind in self.of_kind else {}

    def in_zone(self, time_zone: str) -> "SheetForms":
        """Return a copy with a zone for times that name none, unless a person named one."""
        return self if self.time_zone else replace(self, time_zone=time_zone)


RECORDING = SheetForms()
"""A file in our own form, about which nobody stated anything."""


def date_order(dates: Iterable[tuple[int, str]]) -> DateOrder | None:
    """Return the order of day and month in a file, or None if every date can be read both ways, or needs no order.

    Args:
        dates: (number of the line, text) of each date.

    Returns:
        The order of the dates with only one reading.

    Raises:
        SheetQuestionError: The file holds dates of both orders; the first line of each is named.
    """
    found: dict[DateOrder, tuple[int, str]] = {}
    for line, text in dates:
        date = _DATE.fullmatch(text.strip())
        if date is None or date[2] == "." or len(date[1]) == 4:
            continue
        first, second = int(date[1]), int(date[3])
        if first > 12 >= second:
            found.setdefault(DateOrder.DAY_FIRST, (line, text))
        elif second > 12 >= first:
            found.setdefault(DateOrder.MONTH_FIRST, (line, text))
        if len(found) == 2:
            (one_line, one), (other_line, other) = found.values()
            raise SheetQuestionError(
                f"{quoted(one)} (line {one_line}) and {quoted(other)} (line {other_line}) have day and month in different "
                "orders; write all dates in one"
            )
    return next(iter(found), None)


class SheetTimes:
    """Parses the times of one file."""

    __slots__ = ("_look", "_order", "_plain", "_zone")

    def __init__(self, forms: SheetForms, look: Callable[[], DateOrder | None] | None = None) -> None:
        """Take the statements about the file.

        Args:
            forms: The statements.
            look: Reads all dates of the file and returns their order (`date_order`); called once, at the first date that
                needs it. None: the file cannot be read twice.
        """
        self._plain = Times()
        self._order = forms.order
        self._look = look
        self._zone = ZoneInfo(forms.time_zone) if forms.time_zone else None

    def __call__(self, text: str) -> int:
        """Return UTC milliseconds.

        Raises:
            SheetQuestionError: The text could be read in two ways, or its zone is not known.
            ValueError: The text is no time.
        """
        try:
            return self._plain(text)
        except ValueError:
            text = text.strip()
            number = _DAY_NUMBER.fullmatch(text)
            if number is not None and int(number[1]) >= _FIRST_DAY_NUMBER:
                return self._local(text, _of_day_number(number))
            date = _DATE.fullmatch(text)
            if date is None:
                raise ValueError(f"{quoted(text)} is not a time; {_WANTED}") from None
            return self._of_date(text, date)

    def _of_date(self, text: str, date: re.Match[str]) -> int:
        if date[5] is None:
            raise ValueError(f"{quoted(text)} has no time of day; write when it was read, such as 2026-06-01 09:00")
        year, month, day = self._parts(text, date)
        hour = int(date[5])
        if date[9]:
            if not 1 <= hour <= 12:
                raise ValueError(f"{quoted(text)} is not a time: its hour is beyond 12")
            hour = hour % 12 + (12 if date[9] in "Pp" else 0)
        micro = int((date[8] or "").ljust(6, "0") or 0)
        try:
            moment = datetime(year, month, day, hour, int(date[6]), int(date[7] or 0), micro)  # noqa: DTZ001
        except ValueError as fault:
            raise ValueError(f"{quoted(text)} is not a time: {fault}") from None
        if date[10]:
            zone = date[10] if ":" in date[10] or date[10] in "Zz" else f"{date[10][:3]}:{date[10][3:]}"
            return parse_time(moment.isoformat() + zone)
        return self._local(text, moment)

    def _parts(self, text: str, date: re.Match[str]) -> tuple[int, int, int]:
        first, second, third = int(date[1]), int(date[3]), int(date[4])
        if len(date[1]) == 4:
            return first, second, third
        if len(date[1]) == 3 or len(date[4]) not in (2, 4):
            raise ValueError(f"{quoted(text)} is not a time: its year has neither two digits nor four")
        year = third if len(date[4]) == 4 else 2000 + third
        if date[2] == ".":
            return year, second, first
        looked = self._look is not None
        if self._order is None and self._look is not None:
            self._order = self._look()
        if self._order is DateOrder.DAY_FIRST:
            return year, second, first
        if self._order is DateOrder.MONTH_FIRST or first == second:
            return year, first, second
        more = ", and no date of the file says which" if looked else ""
        # Ask for the zone in the same sentence, or the person has to run the command twice.
        zone = "" if self._zone is not None else " and, unless its times name their zone, --time-zone"
        raise SheetQuestionError(
            f"{quoted(text)} may name the day or the month first{more}; add --dates day-first or --dates month-first{zone}"
        )

    def _local(self, text: str, moment: datetime) -> int:
        if self._zone is None:
            raise SheetQuestionError(
                f"{quoted(text)} names no time zone; add --time-zone, such as --time-zone Europe/Berlin"
            )
        early, late = (moment.replace(tzinfo=self._zone, fold=fold) for fold in (0, 1))
        if early.utcoffset() != late.utcoffset():
            raise ValueError(
                f"{quoted(text)} came twice or never, when clocks were changed that night; write its zone, such as "
                "2026-11-01T01:30:00-04:00"
            )
        return round(early.timestamp() * 1000)


def _of_day_number(number: re.Match[str]) -> datetime:
    part = number[2] or "0"
    seconds = (int(part) * 86_400 * 2 + 10 ** len(part)) // (2 * 10 ** len(part))
    return _DAY_ZERO + timedelta(days=int(number[1]), seconds=seconds)


def sheet_micro(text: str, separator: str) -> int:
    """Read a number of a file; a comma may stand for the point.

    Args:
        text: The cell.
        separator: Separator of the file's cells; if it is the comma, three digits behind a comma may be thousands.

    Returns:
        Millionths.

    Raises:
        ValueError: The text is no number, or could be two.
    """
    text = text.strip()
    comma = _COMMA.fullmatch(text)
    if comma is None:
        return parse_micro(text)
    if separator == "," and len(comma[1]) == 3:
        raise ValueError(f"{quoted(text)} may be a number with three decimals or thousands; write a point for decimals")
    return parse_micro(text.replace(",", "."))
