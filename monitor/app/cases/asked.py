"""Reads from people's words how to judge a batch and what they declare about it; wrong words are refused with a sentence."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from monitor.app.console.refusals import ended, near
from monitor.certificate import Attested
from monitor.model.errors import MisuseError
from monitor.model.times import parse_duration
from monitor.model.words import Method
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import Rule

_AMOUNT = re.compile(r"(\d{1,9}(?:[.,]\d{1,6})?)\s*([^\s\d]+\d?)?")
_LENGTHS = {"m": Decimal(1000), "cm": Decimal(10), "ft": Decimal("304.8")}
_VOLUMES = {"m3": Decimal(1000), "m³": Decimal(1000), "l": Decimal(1), "yd3": Decimal("764.554857984")}
_DIFFERENCES = {"K": Decimal(1000), "degC": Decimal(1000), "°C": Decimal(1000), "degF": Decimal(5000) / 9,
                "°F": Decimal(5000) / 9}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The request beside the record itself; None and "" leave the choice to the record.

    Attributes:
        probes: Ids of the probes to judge by.
        method: The method, if the record does not say.
        basis, max_gap_ms, guard_milli_k, smoothing_ms: How to judge.
        hand_gap_ms: Longest time between two rounds by hand across which a line is assumed.
        start, end: Ends of the record, UTC ms.
        as_of: The instant whose verdict is asked for, UTC ms.
        declared: Who declares which of the rule's conditions, by its key.
        measures: `length` and `volume` of the heap, thousandths of m and of m³.
        confirmed_by: Who compared the rule's figures with the current text, just now.
        feedstocks, quantity, size: Words about the batch.
        site: Name of the yard.
        now: The present, UTC ms.
    """

    now: int
    probes: tuple[str, ...] = ()
    method: Method | None = None
    basis: HoldBasis = HoldBasis.COLDEST
    max_gap_ms: int | None = None
    hand_gap_ms: int | None = None
    guard_milli_k: int = 0
    smoothing_ms: int = 0
    start: int | None = None
    end: int | None = None
    as_of: int | None = None
    declared: Mapping[str, str] = field(default_factory=dict)
    measures: Mapping[str, int] = field(default_factory=dict)
    confirmed_by: str = ""
    feedstocks: str = ""
    quantity: str = ""
    size: str = ""
    site: str = ""

    @property
    def instant(self) -> int | None:
        """The instant whose verdict is asked for, UTC ms; None: the batch's end, or the present."""
        return self.end if self.as_of is None else self.as_of

    def until(self, at: int) -> "Asked":
        """Return the same request for a record that ends at an instant (UTC ms)."""
        return replace(self, as_of=at, end=None if self.end is None else min(self.end, at))

    def attested(self, rule: Rule) -> dict[str, Attested]:
        """Return the declarations of a rule's conditions, by key.

        Raises:
            MisuseError: The rule has no such condition.
        """
        keys = [condition.key for condition in rule.conditions]
        for key in self.declared:
            if key not in keys:
                right = near(key, keys) if keys else "it has no condition that could be declared"
                raise MisuseError(ended(f'--declare: rule {rule.id} has no condition "{key}"; {right}'))
        return {key: Attested(by=name, at=self.now) for key, name in self.declared.items()}


def duration_of(text: str | None, option: str) -> int | None:
    """Return a duration such as `1h` in ms.

    Raises:
        MisuseError: The text is no duration, or its duration is zero.
    """
    if text is None:
        return None
    try:
        found = parse_duration(text)
    except ValueError:
        found = 0
    if found <= 0:
        raise MisuseError(f"{option}: {text!r} is no duration; write a whole number and s, m, h or d, such as 1h.")
    return found


def difference_of(text: str | None, option: str) -> int:
    """Return a difference of temperatures such as `0.5`, `0.5 K` or `1 degF`, thousandths of a kelvin."""
    return 0 if text is None else _thousandths(text, option, _DIFFERENCES, "K", "0.5 or 1 degF")


def length_of(text: str, option: str) -> int:
    """Return a length such as `12m` in thousandths of a metre."""
    return _thousandths(text, option, _LENGTHS, "m", "12m or 40ft")


def volume_of(text: str, option: str) -> int:
    """Return a volume such as `8m3` in thousandths of a cubic metre."""
    return _thousandths(text, option, _VOLUMES, "m3", "8m3 or 10yd3")


def _thousandths(text: str, option: str, units: Mapping[str, Decimal], usual: str, right: str) -> int:
    found = _AMOUNT.fullmatch(text.strip())
    factor = units.get(found[2] or usual) if found is not None else None
    if found is None or factor is None:
        raise MisuseError(f"{option}: {text!r} cannot be meant; write a number and its unit, such as {right}.")
    return int((Decimal(found[1].replace(",", ".")) * factor).to_integral_value())


def method_of(text: str | None) -> Method | None:
    """Return a method by its name, with spaces or hyphens: `aerated static`, `aerated-static`.

    Raises:
        MisuseError: There is no such method.
    """
    if text is None:
        return None
    plain = re.sub(r"[-_\s]+", " ", text.strip().lower())
    for method in Method:
        if plain == method.value.replace("-", " "):
            return method
    raise MisuseError(ended(f"--method: {text!r} is no method; {near(plain, [one.value for one in Method])}"))


def declared_of(pairs: Iterable[str]) -> dict[str, str]:
    """Return the declarers by the key of their condition, from `KEY=NAME`.

    Raises:
        MisuseError: A pair lacks its key or its name.
    """
    found: dict[str, str] = {}
    for pair in pairs:
        key, _, name = (part.strip() for part in pair.partition("="))
        if not key or not name:
            raise MisuseError(f'--declare: {pair!r} says not who declares what; write --declare KEY="Ann Example".')
        found[key] = name
    return found


def names_of(text: str | None) -> tuple[str, ...]:
    """Return the probes of a list such as `a,b,c`, without repeats."""
    return tuple(dict.fromkeys(name.strip() for name in (text or "").split(",") if name.strip()))
