"""The phrases that messages share: number, since when, trend, probe.

Rules: numbers stand in the site's unit, with one decimal at most in a heap and none in a bin, a limit exactly as it was given
in either unit; times are local; a trend below 0.3 °C an hour is steady. Unknown facts are left out, never guessed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.model.readings import is_hand
from monitor.model.settings import Settings
from monitor.model.units import Quantity, show_difference, show_percent, show_temperature
from monitor.model.words import Method
from monitor.notices.instants import mark
from monitor.notices.known import Facts
from monitor.notices.names import clean, join_names

STEADY_MILLI_K_PER_H = 300
"""A slower trend either way is called steady; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Phrases:
    """The shared phrases of one message.

    Attributes:
        facts: The facts that the message is about.
        settings: Names, unit and time zone of the yard.
        side: 1 where a number above the limit is wrong, -1 where one below it is, 0 for neither or both.
    """

    facts: Facts
    settings: Settings
    side: int = 0

    @property
    def zone(self) -> ZoneInfo:
        """The yard's time zone."""
        return ZoneInfo(self.settings.site.time_zone)

    @property
    def place(self) -> str:
        """The place's name, cleaned; the site's where the message is about the whole yard."""
        if self.facts.place == "":
            return clean(self.settings.site.name)
        if self.facts.place == "ambient":
            return "Yard air"
        return clean(self.settings.place_name(self.facts.place))

    @property
    def probe(self) -> str:
        """The probe's name or id, cleaned; `a probe` where none is named; `by hand …` for a series read by hand."""
        if is_hand(self.facts.probe):
            return hand_words(self.settings, self.facts.probe)
        known = self.settings.probes.get(self.facts.probe)
        name = known.name if known is not None and known.name else self.facts.probe
        return clean(name, 24) if name else "a probe"

    @property
    def bracketed(self) -> str:
        """` (p1-a)`, ` (by hand at west)`, or nothing: the probe stands last in a sentence."""
        stale = self.facts.stale
        told = stale is not None and (stale.others_speak or is_hand(self.facts.probe))  # the trend names it already
        return f" ({self.probe})" if self.facts.probe and not told else ""

    @property
    def value(self) -> str:
        """The number in the unit of the site."""
        return self.number(self.facts.value_milli)

    @property
    def limit(self) -> str:
        """The limit in the unit of the site, as exactly as it was given."""
        milli, temperature = self.facts.limit_milli, self.facts.quantity is Quantity.TEMPERATURE
        return self.exact(milli) if milli is not None and temperature else self.number(milli)

    @property
    def since(self) -> str:
        """`since 14:05`; `since 14:05 in Bay 1, moved here with the heap` where it was measured before the heap came here."""
        since = f"since {self.time(self.facts.since)}"
        place = self.facts.moved_from
        return f"{since} in {self.other_place(place)}, moved here with the heap" if place else since

    def other_place(self, place: str) -> str:
        """Return the name of another place than the message's own, cleaned."""
        return clean(self.settings.place_name(place))

    @property
    def heading(self) -> str:
        """The trend: `, rising 2 °F an hour`, `, steady`, or ""; for a stale number, its time and why it is old."""
        if (stale := self.facts.stale) is not None:
            at = self.time(stale.at)
            since = self.read_since
            if is_hand(self.facts.probe):
                return f", as read {at}: nobody has read it since"
            one = stale.others_speak and self.facts.probe
            if stale.outside:
                return f", as last measured {at}: {f'{self.probe} lies' if one else 'its probes lie'} outside{since}"
            if stale.elsewhere:
                return f", as last measured {at}: nothing measures it here{since}"
            return f", as last heard {at}: {f'{self.probe} is' if one else 'its probes are'} silent{since}"
        trend = self.facts.trend_milli_k_per_h
        if trend is None or self.facts.quantity is not Quantity.TEMPERATURE:
            return ""
        if abs(trend) < STEADY_MILLI_K_PER_H:
            return ", steady"
        way = "rising" if trend > 0 else "falling"
        if self.is_bin:
            return f", {way}"
        return f", {way} {show_difference(abs(trend), self.settings.site.temperature_unit)} an hour"

    @property
    def read_since(self) -> str:
        """`; read by hand 10:30: 72 °F` where the number is stale and a person has read the place, or nothing."""
        stale = self.facts.stale
        if stale is None or stale.read_at is None or stale.read_milli is None:
            return ""
        return f"; read by hand {self.time(stale.read_at)}: {self.number(stale.read_milli)}"

    @property
    def outlived(self) -> bool:
        """Whether only silent probes said so, and what a person read since says otherwise."""
        return self.facts.stale is not None and self.facts.stale.outlived

    @property
    def alone(self) -> str:
        """`, by p1-a alone while p1-b lies outside`, or nothing."""
        known = self.facts.outside
        if not known.out or not known.rest:
            return ""
        lies = "lies" if len(known.out) == 1 else "lie"
        return (
            f", by {join_names(self.names(known.rest))} alone while {join_names(self.names(known.out))} {lies} outside"
        )

    def names(self, probes: Sequence[str]) -> list[str]:
        """Return the names of some probes, cleaned."""
        known = self.settings.probes
        return [clean(known[one].name if one in known and known[one].name else one, 24) for one in probes]

    @property
    def method(self) -> Method | None:
        """The way in which the place is aerated; None where it is no pile."""
        pile = self.settings.piles.get(self.facts.place)
        return pile.method if pile is not None else None

    @property
    def is_bin(self) -> bool:
        """Whether the place is a worm bin."""
        return self.facts.place in self.settings.bins

    def hand(self, series: str) -> str:
        """Return the spot of a series read by hand: ` at west`, or "" where its place has one spot."""
        found = self.settings.place_of_hand(series)
        return f" at {clean(found[1], 24)}" if found and found[1] else ""

    def number(self, milli: int | None) -> str:
        """Return a value (thousandths of the quantity's unit) in the site's unit; `not known` for None.

        A bin's is whole: nobody acts on a tenth of a degree there.
        """
        if milli is None:
            return "not known"
        if self.facts.quantity is Quantity.TEMPERATURE:
            return show_temperature(milli, self.settings.site.temperature_unit, whole=self.is_bin)
        return show_percent(milli, whole=self.is_bin)

    def exact(self, milli: int) -> str:
        """Return a temperature (thousandths of °C) in the site's unit, as exactly as it was given."""
        return show_temperature(milli, self.settings.site.temperature_unit)

    @property
    def needs(self) -> str:
        """` (needs 131 °F)`; ` (back over 131 °F)` for a number that is on the right side again; or nothing."""
        if self.facts.limit_milli is None:
            return ""
        return self.returned or f" (needs {self.limit})"

    @property
    def returned(self) -> str:
        """` (back under 170 °F)` for a number that is on the right side of its limit again, else nothing."""
        limit = self.facts.limit_milli
        if limit is None or not self.back:
            return ""
        temperature = self.facts.quantity is Quantity.TEMPERATURE
        return f" (back {'under' if self.side > 0 else 'over'} {self.exact(limit) if temperature else show_percent(limit)})"

    @property
    def back(self) -> bool:
        """Whether the number is on the right side of its limit again, by less than the deadband that ends an alarm."""
        limit, value = self.facts.limit_milli, self.facts.value_milli
        return limit is not None and value is not None and self.side * (value - limit) < 0

    def difference(self, milli_k: int) -> str:
        """Return a difference of temperatures (thousandths of a kelvin) in the site's unit."""
        return show_difference(milli_k, self.settings.site.temperature_unit)

    def time(self, at: int) -> str:
        """Return the mark of an instant (UTC ms), which becomes a local time when the text is read (`instants`)."""
        return mark(at)

    def word(self, text: str) -> str:
        """Return a word from outside, cleaned; "" stays ""."""
        return clean(text, 60) if text else ""

    @property
    def reason(self) -> str:
        """The reason of a fault, cleaned and without its full stop; "" where it is not known."""
        why = self.facts.fault.why
        return clean(why, 120).rstrip(".") if why else ""


def hand_words(settings: Settings, series: str) -> str:
    """Return how a reading by hand is named: `by hand at west`, or `by hand` where its place has one spot."""
    found = settings.place_of_hand(series)
    return f"by hand at {clean(found[1], 24)}" if found and found[1] else "by hand"
