"""Times, temperatures and lengths as the pages say them: local time, both units, never a rounded-up duration."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.certificate.judged import Case
from monitor.model.times import DAY_MS, parse_time, show_time
from monitor.model.units import show_difference, show_temperature
from monitor.piles import COLDEST, HOTTEST
from monitor.proof.counting import DayKind
from monitor.proof.verdict import Finding

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)
_PART = re.compile(r"(\d+(?:\.\d+)?) (days|h|min|s)\b", re.ASCII)
_LASTED = re.compile(r"\b\d+(?:\.\d+)? (?:days|h|min|s)\b(?: \d+(?:\.\d+)? (?:h|min|s)\b)*", re.ASCII)
_WHOLE = re.compile(r"(?<![\d.])(\d+) °", re.ASCII)
_CUBED = re.compile(r"(?<=\d )(m|ft|yd)3\b", re.ASCII)
_ROUNDS_STOPPED = re.compile(
    rf"the readings of probe {re.escape(COLDEST)} (stopped[^;]*?) and the readings of probe {re.escape(HOTTEST)} \1(?=[;.]|$)"
)
_UNITS = ("degF", "degC")


@dataclass(frozen=True, slots=True)
class Wording:
    """The words of one site.

    Attributes:
        zone: Its time zone.
        zone_name: What that is called.
        unit: The unit its people use, `degF` or `degC`; the other stands in brackets.
    """

    zone: ZoneInfo
    zone_name: str
    unit: str

    @classmethod
    def of(cls, case: Case) -> "Wording":
        """Return the wording of a case's site; a zone that this machine does not know is taken as UTC."""
        unit = case.temperature_unit if case.temperature_unit in _UNITS else "degC"
        try:
            return cls(ZoneInfo(case.time_zone), case.time_zone, unit)
        except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
            return cls(ZoneInfo("UTC"), "UTC", unit)

    def when(self, at: int | None) -> str:
        """Return an instant in local time, to the minute; "" for none."""
        if at is None:
            return ""
        try:
            return f"{(_EPOCH + timedelta(milliseconds=at)).astimezone(self.zone):%Y-%m-%d %H:%M}"
        except (OverflowError, ValueError):
            return show_time(at)

    def local(self, text: str) -> str:
        """Return a sentence with the times in it, written in UTC, said in local time, and its durations without odd seconds."""
        return _STAMP.sub(lambda found: self.when(parse_time(found.group())), coarse(rounds_named(text)))

    def span(self, start: int, end: int) -> str:
        """Return `from to`, the day once where both lie on it."""
        since, until = self.when(start), self.when(end)
        return f"{since} to {until[11:]}" if since[:10] == until[:10] else f"{since} to {until}"

    def both(self, milli_c: int | None) -> str:
        """Return a temperature in both units, the site's first: `131 °F (55 °C)`."""
        if milli_c is None:
            return "–"
        other = _UNITS[1 - _UNITS.index(self.unit)]
        return f"{show_temperature(milli_c, self.unit)} ({show_temperature(milli_c, other)})"

    def even(self, milli_c: int | None) -> str:
        """Return the same for a column: always with one decimal, so that its numbers stand under each other."""
        return _WHOLE.sub(r"\1.0 °", self.both(milli_c))

    def difference(self, milli_k: int | None) -> str:
        """Return a difference of temperatures in both units; "not stated" for none."""
        if milli_k is None:
            return "not stated"
        other = _UNITS[1 - _UNITS.index(self.unit)]
        return f"{show_difference(milli_k, self.unit)} ({show_difference(milli_k, other)})"


def coarse(text: str) -> str:
    """Return a sentence with its durations cut off after two units and never rounded up: `17 days 16 h`, `71 h 59 min`."""

    def cut(found: re.Match[str]) -> str:
        numbers = [part for part in _PART.findall(found.group()) if part[1] != "s"]
        if not numbers:
            return found.group() if "." not in found.group() else "under 1 min"
        return " ".join(f"{number} {unit}" for number, unit in numbers[:2])

    return _LASTED.sub(cut, text)


def length(duration_ms: int) -> str:
    """Return a duration in hours and minutes, cut off and never rounded up: `372 h 05 min`."""
    minutes, odd = divmod(duration_ms, 60_000)
    if minutes < 60:
        return f"{minutes} min" if minutes or not odd else "under 1 min"
    return f"{minutes // 60} h {minutes % 60:02d} min"


def cubed(text: str) -> str:
    """Return words in which cubic measures have a raised figure: `4.5 m³`."""
    return _CUBED.sub(r"\1³", text)


def metres(milli_m: int | None) -> str:
    """Return a depth: `0.45 m`; "not stated" for none."""
    if milli_m is None:
        return "not stated"
    inches = round(milli_m / 25.4)  # 1 in = 25.4 mm exactly
    return f"{milli_m / 1000:.2f} m ({inches} in)"


def share(milli: int) -> str:
    """Return thousandths as a percentage, cut off: 99.97 % must not look whole."""
    return f"{milli // 10} %"


def several(count: int, one: str, many: str = "") -> str:
    """Return a count with its word.

    Args:
        count: How many.
        one: The word for one.
        many: The word for several, or "" for `one` with an s.

    Returns:
        `1 probe`, `1,200 probes`.
    """
    return f"{count:,} {one}" if count == 1 else f"{count:,} {many or one + 's'}"


def sentence(text: str) -> str:
    """Return a reason as a sentence of its own."""
    whole = text[:1].upper() + text[1:]
    return whole if whole.endswith((".", "!", "?")) else whole + "."


def days_below(finding: Finding) -> str:
    """Return how much of the days that count was not at temperature; "" where all of it was."""
    counted = [one for one in finding.days if one.kind is DayKind.COUNTED]
    held = sum(one.hold_ms for one in counted)
    if held >= len(counted) * DAY_MS:
        return ""
    return (
        f"Of the {several(len(counted), 'day that counts', 'days that count')} {length(held)} were at temperature; the rest "
        "was recovery after turnings, or is not proven."
    )


def rounds_named(text: str) -> str:
    """Return a sentence in which the lines of rounds by hand are called what people call them."""
    text = _ROUNDS_STOPPED.sub(r"the rounds by hand \1", text)
    for line, name in ((COLDEST, "the coldest"), (HOTTEST, "the hottest")):
        text = text.replace(f"probe {line}", line).replace(line, f"{name} of the rounds by hand")
    return text
