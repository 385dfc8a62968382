"""Hands out the values of one table of a rule file, and notes a sentence for every fault.

Every sentence names the file and the key, says what is wrong and what would be right. Unknown keys are faults: a
misspelt `turnings` must not make a rule easier to fulfil.
"""

import re
import tomllib
from collections.abc import Callable, Collection, Iterable
from decimal import ROUND_HALF_EVEN, Decimal
from enum import StrEnum
from typing import Any, TypeVar

from monitor.model.errors import ConfigurationError
from monitor.model.times import parse_duration
from monitor.model.units import celsius_milli

_TEMPERATURE = re.compile(r"(-?\d{1,3}(?:\.\d{1,3})?) ?(degC|degF)", re.ASCII)
_SIZE = re.compile(r"(\d{1,6}(?:\.\d{1,3})?) ?(mm|cm|m|in|ft|m3|yd3)", re.ASCII)
_FACTOR = re.compile(r"0\.\d{1,3}", re.ASCII)
_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_PLACE = re.compile(r"\[\d+\]", re.ASCII)
_WORD = TypeVar("_WORD", bound=StrEnum)
_READ = TypeVar("_READ")

_LENGTHS = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4"), "ft": Decimal("304.8")}
"""Millimetres in each unit of length; the foot and the inch are exact by definition."""

_VOLUMES = {"m3": Decimal(1000), "yd3": Decimal("764.554857984")}
"""Thousandths of a cubic metre in each unit of volume; a yard is 914.4 mm."""


class FaultyError(Exception):
    """A value cannot be used; its fault is noted already."""


class Table:
    """One table of the file: hands out its values, notes faults, and in the end names the keys nobody asked for."""

    def __init__(self, data: dict[str, Any], where: str, file: str, faults: list[str]) -> None:
        self._data = data
        self._where = where
        self._file = file
        self._faults = faults
        self._asked: set[str] = set()

    def fault(self, key: str, wrong: str, right: str) -> FaultyError:
        """Note a fault of a key.

        Args:
            key: The key.
            wrong: What is wrong with it.
            right: What would be right.

        Returns:
            What to raise.
        """
        self._faults.append(f"{self._file}, key `{self._where}{key}`: {wrong}; {right}.")
        return FaultyError()

    def take(self, key: str, right: str, default: Any = None) -> Any:
        """Return a raw value; a missing one is a fault unless it has a default.

        Args:
            key: Its key.
            right: What would be right, for the sentence.
            default: What stands for a missing value, or None where there must be one.

        Returns:
            The value as TOML has it.

        Raises:
            FaultyError: It is missing.
        """
        self._asked.add(key)
        if key in self._data:
            return self._data[key]
        if default is not None:
            return default
        raise self.fault(key, "it is missing", right)

    def has(self, key: str) -> bool:
        """Return whether the key is there."""
        return key in self._data

    def text(self, key: str) -> str:
        """Return a text that is not empty."""
        right = "write a text in quotes"
        value = self.take(key, right)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(key, f"{value!r} is not a text with anything in it", right)
        return value.strip()

    def word(self, key: str, words: type[_WORD], default: _WORD | None = None) -> _WORD:
        """Return one of a set of words.

        Args:
            key: Its key.
            words: The words.
            default: The word that stands for a missing value, or None where there must be one.

        Returns:
            The word.

        Raises:
            FaultyError: It is missing, or none of the words.
        """
        right = "write " + one_of([word.value for word in words])
        value = self.take(key, right, default)
        try:
            return words(value)
        except ValueError:
            raise self.fault(key, f"{value!r} is not known", right) from None

    def flag(self, key: str) -> bool:
        """Return true or false; false where the key is missing."""
        value = self.take(key, "", default=False) if self.has(key) else False
        if not isinstance(value, bool):
            raise self.fault(key, f"{value!r} is neither true nor false", "write true or false without quotes")
        return value

    def number(self, key: str, most: int = 1000) -> int:
        """Return a whole number of 1 or more."""
        right = f"write a whole number from 1 to {most} without quotes"
        value = self.take(key, right)
        if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= most:
            raise self.fault(key, f"{value!r} is not such a number", right)
        return value

    def duration(self, key: str) -> int:
        """Return a duration of more than nothing, ms."""
        right = 'write a whole number and s, m, h or d, such as "72h"'
        value = self.take(key, right)
        try:
            duration = parse_duration(value)
        except (ValueError, TypeError, AttributeError):
            raise self.fault(key, f"{value!r} is not a duration", right) from None
        if duration == 0:
            raise self.fault(key, f"{value!r} lasts no time at all", right)
        return duration

    def temperature(self, key: str) -> tuple[int, str]:
        """Return a temperature as thousandths of a degree Celsius, and as it is written."""
        right = 'write a number and its unit, such as "131 degF" or "55 degC"'
        value = self.take(key, right)
        found = _TEMPERATURE.fullmatch(value.strip()) if isinstance(value, str) else None
        if found is None:
            raise self.fault(key, f"{value!r} is not a temperature", right)
        milli_c = celsius_milli(float(found[1]), found[2])
        if not 0 < milli_c <= 100_000:
            raise self.fault(key, f"{value!r} is no temperature of compost", "write one above 0 and up to 100 degC")
        return milli_c, f"{found[1]} {'°F' if found[2] == 'degF' else '°C'}"

    def size(self, key: str, *, volume: bool = False) -> int | None:
        """Return a length in millimetres, or a volume in thousandths of a cubic metre; None where it is missing."""
        units = _VOLUMES if volume else _LENGTHS
        self._asked.add(key)
        if key not in self._data:
            return None
        value = self._data[key]
        right = "write a number and its unit, such as " + ('"200 yd3" or "150 m3"' if volume else '"150 ft" or "30 cm"')
        found = _SIZE.fullmatch(value.strip()) if isinstance(value, str) else None
        if found is None or found[2] not in units:
            raise self.fault(key, f"{value!r} is not a {'volume' if volume else 'length'}", right)
        size = int((Decimal(found[1]) * units[found[2]]).to_integral_value(rounding=ROUND_HALF_EVEN))
        if size == 0:
            raise self.fault(key, f"{value!r} is nothing at all", right)
        return size

    def factor(self, key: str) -> int:
        """Return a decimal fraction between 0 and 1 in thousandths."""
        right = 'write a decimal fraction in quotes, such as "0.14"'
        value = self.take(key, right)
        found = _FACTOR.fullmatch(value.strip()) if isinstance(value, str) else None
        if found is None or Decimal(found[0]) == 0:
            raise self.fault(key, f"{value!r} is not such a fraction", right)
        return int(Decimal(found[0]) * 1000)

    def name(self, key: str) -> str:
        """Return a short name of small letters, digits and hyphens."""
        value = self.text(key)
        if _KEY.fullmatch(value) is None:
            raise self.fault(
                key, f"{value!r} is not a name", 'write small letters, digits and hyphens, such as "curing"'
            )
        return value

    def tried(self, read: Callable[[], _READ]) -> _READ | None:
        """Return a reader's value, or None where it found a fault: a person sees all faults at once."""
        try:
            return read()
        except FaultyError:
            return None

    def texts(self, keys: Iterable[str]) -> dict[str, str | None]:
        """Return texts by their keys; None for each that is at fault."""
        return {key: self.tried(lambda key=key: self.text(key)) for key in keys}  # type: ignore[misc]

    def table(self, key: str) -> "Table":
        """Return a table within this one."""
        right = f"begin it with a line [{_PLACE.sub('', self._where)}{key}]"
        value = self.take(key, right)
        if not isinstance(value, dict):
            raise self.fault(key, "it is not a table", right)
        return Table(value, f"{self._where}{key}.", self._file, self._faults)

    def tables(self, key: str) -> list["Table"]:
        """Return a list of tables, one or more."""
        right = f"begin each with a line [[{_PLACE.sub('', self._where)}{key}]]"
        value = self.take(key, right)
        if not isinstance(value, list) or not value or not all(isinstance(one, dict) for one in value):
            raise self.fault(key, "it is not a list of tables", right)
        return [
            Table(one, f"{self._where}{key}[{place}].", self._file, self._faults)
            for place, one in enumerate(value, start=1)
        ]

    def end(self) -> None:
        """Note every key that nobody asked for."""
        for key in self._data:
            if key not in self._asked:
                known = "use only " + ", ".join(f"`{name}`" for name in sorted(self._asked))
                self.fault(key, "this key is not known", known)


def table_of_text(text: str, file: str, faults: list[str]) -> Table:
    """Return the table that a whole file is.

    Args:
        text: The file's text.
        file: Its name, for the sentences.
        faults: Receives a sentence for each fault found.

    Raises:
        ConfigurationError: It is not TOML.
    """
    try:
        return Table(tomllib.loads(text), "", file, faults)
    except tomllib.TOMLDecodeError as fault:
        raise ConfigurationError([f"{file}: this is not TOML ({fault}); correct it there."]) from fault


def one_of(words: Collection[str]) -> str:
    """Return words in quotes, joined by or."""
    return " or ".join(f'"{word}"' for word in words)
