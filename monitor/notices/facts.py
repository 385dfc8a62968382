"""What a message is made from, and the phrases that every message shares: number and limit, since when, heading.

Rules: numbers and limits in the unit of the site, one decimal at most, exact where the limit was given in either unit;
times local; a trend below 0.3 °C an hour is steady. What is not known is left out, never guessed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model.readings import is_hand
from monitor.model.settings import Settings
from monitor.model.units import Quantity, show_difference, show_percent, show_temperature
from monitor.model.words import Method
from monitor.notices.instants import mark
from monitor.notices.names import clean, join_names

STEADY_MILLI_K_PER_H = 300
"""Slower than this either way is called steady; common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known when a message is written.

    Attributes:
        place: Pile, bin, `ambient` or "".
        probe: The probe that decided it, or "".
        value_milli: The number, thousandths of the canonical unit, or None.
        limit_milli: Its limit likewise, or None.
        since: Since when, UTC ms.
        now: When the message is written, UTC ms.
        trend_milli_k_per_h: Which way a temperature is heading, thousandths of a degree an hour, or None.
        quantity: What value and limit are of.
        extra: More, by the kind of message; every key may be missing:
            `variant`: which way an alarm came about (`texts` lists the words), `rule`: its id, `rule_met`: bool,
            `days`, `days_needed`, `turnings`, `turnings_needed`: numbers; `fed_at`: time of the last feeding,
            `last_turned`: time; `other_milli`: the other end (hottest for a cold corner, the probe in comfort for a
            warm spot); `last_at`: time of the last reading; `limit_ms`, `spacing_ms`: durations; `by_ms`: how far a
            clock is off; `what`, `name`, `why`: of a link; `alarm`: id of the alarm that is over or past; `until`:
            when it was over; `rise_milli`: of a reheating; `unsure`: readings flagged as doubtful decided it;
            `stale_at`: when all its probes were last heard, where they are silent by now (`others_speak`: when the one that
            is told was, while others speak; `outside`: they lie outside; `elsewhere`: it is of another place now);
            `moved_from`, `moved_to`: the place that the heap came from, or went to, with its danger; `left`: the probe that
            said so last and was taken away; `read_at`: when a heap that is read by hand was read last (of rounds that prove
            its rule also `due_at`, `breaks_at`: when the next is due and when the chain breaks; `lost_days`, `lost_run`:
            what goes with it; `recovers`: whether it does so from a turning); `out`, `in`: core probes that lie outside and
            those that do not, where both are; `by`: which limit of worms in danger rang (`all`, `any`), `coolest_milli`,
            `hottest_milli`: either end; `air_high_milli`: the air's highest of 24 h; `turned_at`: when a heap was turned
            after the reading (`read_at`) by which it is hot; `empty`: by the log nothing lies there; `upper_milli`: the
            rule's upper limit, `no_air`: no probe tells how warm the air is; `shut`: the heap may burn, so
            nobody opens it.
    """

    place: str
    probe: str = ""
    value_milli: int | None = None
    limit_milli: int | None = None
    since: int
    now: int
    trend_milli_k_per_h: int | None = None
    quantity: Quantity = Quantity.TEMPERATURE
    extra: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Phrases:
    """The shared phrases of one message.

    Attributes:
        facts: What is known.
        settings: Names, unit and time zone of the yard.
        side: 1 where what is above the limit is wrong, -1 where what is below it is, 0 where neither or both.
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
        """The place's name, cleaned; the yard's for what concerns the yard."""
        if self.facts.place == "":
            return clean(self.settings.site.name)
        if self.facts.place == "ambient":
            return "Yard air"
        return clean(self.settings.place_name(self.facts.place))

    @property
    def probe(self) -> str:
        """The probe's name or id, cleaned; `a probe` where none is named; what was read by hand as that."""
        if is_hand(self.facts.probe):
            return hand_words(self.settings, self.facts.probe)
        known = self.settings.probes.get(self.facts.probe)
        name = known.name if known is not None and known.name else self.facts.probe
        return clean(name, 24) if name else "a probe"

    @property
    def at_probe(self) -> str:
        """` at p1-a`, ` by hand at west`, or nothing."""
        if is_hand(self.facts.probe):
            return f" {hand_words(self.settings, self.facts.probe)}"
        return f" at {self.probe}" if self.facts.probe else ""

    @property
    def value(self) -> str:
        """The number in the unit of the site."""
        return self.number(self.facts.value_milli)

    @property
    def limit(self) -> str:
        """The limit in the unit of the site."""
        return self.number(self.facts.limit_milli)

    @property
    def since(self) -> str:
        """`since 14:05`; `since 14:05 in Bay 1, moved here with the heap` where it was measured before the heap came here."""
        since = f"since {self.time(self.facts.since)}"
        place = self.facts.extra.get("moved_from")
        return f"{since} in {self.other_place(place)}, moved here with the heap" if place else since

    def other_place(self, place: object) -> str:
        """Return what people call another place than the one that the message is about, cleaned."""
        return clean(self.settings.place_name(str(place)))

    @property
    def heading(self) -> str:
        """`, rising 2 °F an hour`, `, steady`, or nothing where the trend is not known."""
        if (stale := self.stale) is not None:
            if is_hand(self.facts.probe):
                return f", as read {self.time(stale)}: nobody has read it since"
            one = self.facts.extra.get("others_speak") and self.facts.probe
            if self.facts.extra.get("outside"):
                return f", as last measured {self.time(stale)}: {f'{self.probe} lies' if one else 'its probes lie'} outside"
            if self.facts.extra.get("elsewhere"):
                return f", as last measured {self.time(stale)}: nothing measures it here"
            return f", as last heard {self.time(stale)}: {f'{self.probe} is' if one else 'its probes are'} silent"
        trend = self.facts.trend_milli_k_per_h
        if trend is None or self.facts.quantity is not Quantity.TEMPERATURE:
            return ""
        if abs(trend) < STEADY_MILLI_K_PER_H:
            return ", steady"
        pace = show_difference(abs(trend), self.settings.site.temperature_unit)
        return f", {'rising' if trend > 0 else 'falling'} {pace} an hour"

    @property
    def stale(self) -> int | None:
        """When what is told was last known (UTC ms), where nothing is known of it any more; else None."""
        at = self.facts.extra.get("stale_at")
        return at if isinstance(at, int) else None

    @property
    def turned_at(self) -> int | None:
        """When a heap was turned after the reading that is told, where nothing was read of it since (UTC ms); else None."""
        at = self.facts.extra.get("turned_at")
        return at if isinstance(at, int) else None

    @property
    def known(self) -> bool:
        """Whether what is told is known to be so now."""
        return self.stale is None and self.turned_at is None

    @property
    def alone(self) -> str:
        """`, by p1-a alone while p1-b lies outside`, or nothing."""
        out, rest = self.facts.extra.get("out"), self.facts.extra.get("in")
        if not out or not rest:
            return ""
        lies = "lies" if len(out) == 1 else "lie"
        return f", by {join_names(self.names(rest))} alone while {join_names(self.names(out))} {lies} outside"

    def names(self, probes: Sequence[str]) -> list[str]:
        """Return what people call some probes, cleaned."""
        known = self.settings.probes
        return [clean(known[one].name if one in known and known[one].name else one, 24) for one in probes]

    @property
    def method(self) -> Method | None:
        """How the place is aerated; None where it is no pile."""
        pile = self.settings.piles.get(self.facts.place)
        return pile.method if pile is not None else None

    @property
    def is_bin(self) -> bool:
        """Whether the place is a worm bin."""
        return self.facts.place in self.settings.bins

    def hand(self, series: object) -> str:
        """Return where something was read by hand: ` at west`, or nothing."""
        found = self.settings.place_of_hand(series) if isinstance(series, str) else None
        return f" at {clean(found[1], 24)}" if found and found[1] else ""

    def number(self, milli: int | None) -> str:
        """Return thousandths of the facts' quantity for people; `not known` for None."""
        if milli is None:
            return "not known"
        if self.facts.quantity is Quantity.TEMPERATURE:
            return show_temperature(milli, self.settings.site.temperature_unit)
        return show_percent(milli)

    def beside(self, word: str = "limit", more: str = "") -> str:
        """Return ` (limit 170 °F)` with the given word and what is to follow it, or nothing where there is no limit."""
        if self.facts.limit_milli is None:
            return ""
        if self.back:
            return f" (back {'under' if self.side > 0 else 'over'} its {word} of {self.limit}{more})"
        return f" ({word} {self.limit}{more})"

    @property
    def back(self) -> bool:
        """Whether the number is on the right side of its limit again, by less than the deadband that ends an alarm."""
        limit, value = self.facts.limit_milli, self.facts.value_milli
        return limit is not None and value is not None and self.side * (value - limit) < 0

    def difference(self, milli_k: int) -> str:
        """Return a difference of temperatures for people."""
        return show_difference(milli_k, self.settings.site.temperature_unit)

    def time(self, at: int) -> str:
        """Return a local time, which becomes words when the text is read (`instants`)."""
        return mark(at)

    def extra_time(self, key: str) -> str | None:
        """Return a time of the extra facts as people say it, or None."""
        at = self.facts.extra.get(key)
        return self.time(at) if isinstance(at, int) else None

    def word(self, key: str) -> str:
        """Return a word of the extra facts, cleaned; empty if missing."""
        return clean(str(self.facts.extra[key]), 60) if self.facts.extra.get(key) else ""

    @property
    def reason(self) -> str:
        """Why a fault came about, cleaned and without its full stop; empty if not known."""
        why = self.facts.extra.get("why")
        return clean(str(why), 120).rstrip(".") if why else ""

    def count(self, key: str) -> str | None:
        """Return a number of the extra facts as text, or None."""
        number = self.facts.extra.get(key)
        return None if number is None else f"{number:g}"


def hand_words(settings: Settings, series: str) -> str:
    """Return how a reading by hand is named: `by hand at west`, or `by hand` where its place has one spot."""
    found = settings.place_of_hand(series)
    return f"by hand at {clean(found[1], 24)}" if found and found[1] else "by hand"
