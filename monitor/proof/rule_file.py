"""Reads a rule out of the text of its TOML file, and refuses a bad one with a sentence for every fault.

Every sentence names the file and the key, says what is wrong and what would be right. Unknown keys are faults: a
misspelt `turnings` must not make a rule easier to fulfil.
"""

import re
import tomllib
from collections.abc import Callable, Collection
from enum import StrEnum
from importlib.resources import files
from typing import Any, TypeVar

from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.times import parse_duration
from monitor.model.units import celsius_milli
from monitor.model.words import Method
from monitor.proof.rules import NO_RULE, Alternative, Days, Join, Limits, Part, Rule, Run, Status, Total, Turnings

_TEMPERATURE = re.compile(r"(-?\d{1,3}(?:\.\d{1,3})?) ?(degC|degF)", re.ASCII)
_PLACE = re.compile(r"\[\d+\]", re.ASCII)
_IDENTIFIER = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_TEXTS = ("title", "jurisdiction", "section", "feedstock", "wording", "source")
_WORD = TypeVar("_WORD", bound=StrEnum)


class _FaultyError(Exception):
    """One value cannot be used; its fault is noted already."""


class _Table:
    """One table of the file: hands out its values, notes faults, and in the end names the keys nobody asked for."""

    def __init__(self, data: dict[str, Any], where: str, file: str, faults: list[str]) -> None:
        self._data = data
        self._where = where
        self._file = file
        self._faults = faults
        self._asked: set[str] = set()

    def fault(self, key: str, wrong: str, right: str) -> _FaultyError:
        """Note a fault of a key and return what to raise."""
        self._faults.append(f"{self._file}, key `{self._where}{key}`: {wrong}; {right}.")
        return _FaultyError()

    def take(self, key: str, right: str, default: Any = None) -> Any:
        """Return a raw value; a missing one is a fault unless it has a default."""
        self._asked.add(key)
        if key in self._data:
            return self._data[key]
        if default is not None:
            return default
        raise self.fault(key, "it is missing", right)

    def has(self, key: str) -> bool:
        """Tell whether the key is there."""
        return key in self._data

    def text(self, key: str) -> str:
        """Return a text that is not empty."""
        right = "write a text in quotes"
        value = self.take(key, right)
        if not isinstance(value, str) or not value.strip():
            raise self.fault(key, f"{value!r} is not a text with anything in it", right)
        return value.strip()

    def word(self, key: str, words: type[_WORD], default: _WORD | None = None) -> _WORD:
        """Return one of a set of words."""
        right = "write " + _one_of([word.value for word in words])
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

    def number(self, key: str) -> int:
        """Return a whole number of 1 or more."""
        right = "write a whole number from 1 to 1000 without quotes"
        value = self.take(key, right)
        if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= 1000:
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

    def tables(self, key: str) -> list["_Table"]:
        """Return a list of tables, one or more."""
        right = f"begin each with a line [[{_PLACE.sub('', self._where)}{key}]]"
        value = self.take(key, right)
        if not isinstance(value, list) or not value or not all(isinstance(one, dict) for one in value):
            raise self.fault(key, "it is not a list of tables", right)
        return [
            _Table(one, f"{self._where}{key}[{place}].", self._file, self._faults)
            for place, one in enumerate(value, start=1)
        ]

    def end(self) -> None:
        """Note every key that nobody asked for."""
        for key in self._data:
            if key not in self._asked:
                known = "use only " + ", ".join(f"`{name}`" for name in sorted(self._asked))
                self.fault(key, "this key is not known", known)


def _one_of(words: Collection[str]) -> str:
    return " or ".join(f'"{word}"' for word in words)


def _turnings(table: _Table) -> Turnings | None:
    apart = table.duration("turnings_apart") if table.has("turnings_apart") else 0
    if not table.has("turnings"):
        if apart:
            raise table.fault("turnings_apart", "it says how far apart but not how many", "add `turnings`")
        return None
    return Turnings(count=table.number("turnings"), apart_ms=apart)


def _run(table: _Table) -> Part:
    return Run(duration_ms=table.duration("duration"), turnings=_turnings(table))


def _total(table: _Table) -> Part:
    return Total(duration_ms=table.duration("duration"), turnings=_turnings(table))


def _days(table: _Table) -> Part:
    return Days(count=table.number("days"), consecutive=table.flag("consecutive"), turnings=_turnings(table))


# A kind of a later issue is one more line here.
_KINDS: dict[str, Callable[[_Table], Part]] = {"run": _run, "total": _total, "days": _days}
_OPTIONAL = {
    "run": ("turnings", "turnings_apart"),
    "total": ("turnings", "turnings_apart"),
    "days": ("consecutive", "turnings", "turnings_apart"),
}


def _part(table: _Table) -> Part:
    right = "write " + _one_of(_KINDS)
    kind = table.take("kind", right)
    if not isinstance(kind, str) or kind not in _KINDS:
        raise table.fault("kind", f"{kind!r} is not a kind of requirement", right)
    part = _KINDS[kind](table)
    for key in _OPTIONAL[kind]:
        table.take(key, "", default="")
    table.end()
    return part


def _alternative(table: _Table) -> Alternative:
    low, low_text = table.temperature("hold")
    high, high_text = table.temperature("limit") if table.has("limit") else (None, "")
    if high is not None and high <= low:
        raise table.fault("limit", f"{high_text} is not above the hold temperature {low_text}", "write a higher one")
    limits = Limits(
        low_milli_c=low, high_milli_c=high, strict=table.flag("strict"), low_text=low_text, high_text=high_text
    )
    join = table.word("join", Join, Join.ALL)
    parts = tuple(_part(one) for one in table.tables("parts"))
    for key in ("limit", "strict"):
        table.take(key, "", default="")
    table.end()
    return Alternative(limits=limits, parts=parts, join=join)


def _alternatives(table: _Table) -> tuple[Alternative, ...]:
    ways = tuple(_alternative(one) for one in table.tables("alternatives"))
    lows = [way.limits.low_milli_c for way in ways]
    if lows[0] != min(lows):
        raise table.fault("alternatives", "the first is not the one with the lowest `hold`", "put that one first")
    return ways


def _methods(table: _Table) -> tuple[Method, ...]:
    right = "write a list of " + _one_of([word.value for word in Method])
    value = table.take("methods", right)
    try:
        methods = tuple(Method(one) for one in value)
    except (TypeError, ValueError):
        methods = ()
    if not methods or not isinstance(value, list):
        raise table.fault("methods", f"{value!r} names no method or one that is not known", right)
    return methods


def _conditions(table: _Table) -> tuple[str, ...]:
    value = table.take("conditions", "", default=[]) if table.has("conditions") else []
    if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
        raise table.fault("conditions", f"{value!r} is not a list of texts", "write a list of texts in quotes")
    return tuple(value)


def parse_rule(text: str, file: str, rule_id: str) -> Rule:
    """Return the rule that a TOML text describes.

    Args:
        text: The whole file.
        file: Its name, for the sentences.
        rule_id: Id of the rule (for the rules we ship, the file's name without its ending).

    Raises:
        ConfigurationError: The file is bad; one sentence for each fault found.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise ConfigurationError([f"{file}: this is not TOML ({fault}); correct it there."]) from fault
    faults: list[str] = []
    if rule_id == NO_RULE or _IDENTIFIER.fullmatch(rule_id) is None:
        faults.append(f"{file}: {rule_id!r} cannot name a rule; use small letters, digits and hyphens (not `none`).")
    table = _Table(data, "", file, faults)

    def tried(read: Callable[[], Any]) -> Any:
        # Goes on after a fault, so that a person sees all of them at once.
        try:
            return read()
        except _FaultyError:
            return None

    found: dict[str, Any] = {key: tried(lambda key=key: table.text(key)) for key in _TEXTS}  # type: ignore[misc]
    found["status"] = tried(lambda: table.word("status", Status))
    found["methods"] = tried(lambda: _methods(table))
    found["conditions"] = tried(lambda: _conditions(table))
    found["alternatives"] = tried(lambda: _alternatives(table))
    table.take("conditions", "", default="")
    table.end()
    if faults:
        raise ConfigurationError(faults)
    return Rule(id=rule_id, **found)


def rule_ids() -> tuple[str, ...]:
    """Return the ids of the rules that come with the program, in order; `none` is not among them."""
    names = (entry.name for entry in files("monitor.proof").joinpath("rules").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def load_rule(rule_id: str) -> Rule:
    """Return a rule that comes with the program.

    Raises:
        MisuseError: There is no such rule.
        ConfigurationError: Its file is bad.
    """
    known = rule_ids()
    if rule_id not in known:
        raise MisuseError(f"There is no rule {rule_id!r}; there are {', '.join(known)} (and `none` for no rule).")
    name = f"{rule_id}.toml"
    return parse_rule(files("monitor.proof").joinpath("rules", name).read_text("utf-8"), name, rule_id)


def find_rule(rule_id: str) -> Rule | None:
    """Return the rule a pile names, or None for `none`; raises as `load_rule` does."""
    return None if rule_id == NO_RULE else load_rule(rule_id)
