"""The part of the configuration that the engine uses, as frozen values; their canonical JSON is the `settings` event.

Secrets, addresses of channels and connections never stand here.
"""

from dataclasses import dataclass, field

from monitor.model.readings import hand_spot
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS
from monitor.model.units import Quantity
from monitor.model.words import Basis, Method, Role

AMBIENT = "ambient"
"""Place of the probes that measure the air of the yard."""
YARD = "yard"
"""Place of entries about the whole yard, such as a delivery."""

PASSWORD_LENGTHS = (12, 128)
"""Least and most characters of the page's password (OWASP ASVS 4.0.3, 2.1.1 and 2.1.2, from memory)."""
METRICS_TOKEN_LEAST = 20
"""Least characters of the token with which programs read the daemon's figures (our choice: nobody types it)."""
PAGE_CONTACT = "page"
"""Contact of notices in a yard without contacts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The yard as a whole; `summer` are the months (1 to 12) in which bins must be read by hand more often."""

    name: str = "Yard"
    time_zone: str = "UTC"
    temperature_unit: str = "degC"
    summer: tuple[int, ...] = (6, 7, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """A spot for hot composting; `spots` are the places of its readings by hand, in the order of a round."""

    name: str
    rule: str = "none"
    method: Method = Method.TURNED
    built: int | None = None
    thresholds: PileThresholds = field(default_factory=PileThresholds)
    spots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """A bed with composting worms; `spots` as for a pile."""

    name: str
    thresholds: BinThresholds = field(default_factory=BinThresholds)
    spots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Straight line through one or two points (one point: an offset), in force from `start` (UTC ms; None: always).

    Points are (shown value, true value) in thousandths of the canonical unit. For a `raw` moisture probe the first
    of each pair is in thousandths of the raw number sent.
    """

    points: tuple[tuple[int, int], ...]
    start: int | None = None
    by: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """One sensing point.

    Attributes:
        place: A pile, a bin, or `ambient`.
        address: The node's name for it (defaults to the probe's id).
        depth_milli_m: Depth below the surface, millimetres, or None if not stated.
        uncertainty_milli_k: Largest error, by its data sheet or calibration, thousandths of a kelvin, or None.
        resolution_micro: Smallest step of the raw value, millionths of its unit, or None (then it is observed).
        bulk_density_kg_m3: Of the wet material, for a moisture probe whose basis is `volume`.
    """

    place: str
    role: Role
    address: str
    quantity: Quantity = Quantity.TEMPERATURE
    name: str = ""
    unit: str | None = None
    depth_milli_m: int | None = None
    uncertainty_milli_k: int | None = None
    source: str = ""
    resolution_micro: int | None = None
    basis: Basis = Basis.WET_MASS
    bulk_density_kg_m3: int | None = None
    calibrations: tuple[Calibration, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DutyWindow:
    """Local time during which a contact is on duty; `days` are ISO weekdays 1 (Monday) to 7."""

    days: tuple[int, ...] = (1, 2, 3, 4, 5, 6, 7)
    start_minute: int = 0
    end_minute: int = 1440
    """Minutes after local midnight; an end at or before the start runs into the next day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A person who gets notices.

    Attributes:
        channels: Names of channels, each of which gets every notice of this contact.
        places: Places this contact looks after; empty: all.
        order: Contacts of the lowest order hear first; those of a higher order only when a notice is passed on. Contacts of
            one order hear together.
        duty: When the contact is on duty; empty: always.
        quiet_start_minute, quiet_end_minute: Quiet hours in local minutes after midnight; equal: none.
        digest: Whether the daily digest goes to this contact.
    """

    name: str
    channels: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    order: int = 1
    duty: tuple[DutyWindow, ...] = ()
    quiet_start_minute: int = 22 * 60
    quiet_end_minute: int = 7 * 60
    digest: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticePolicy:
    """The times after which a notice is repeated, passed on, gathered or summed up."""

    gather_ms: int = 60 * SECOND_MS
    repeat_highest_ms: int = 15 * MINUTE_MS
    repeat_high_ms: int = 2 * HOUR_MS
    repeat_medium_ms: int = 12 * HOUR_MS
    repeat_low_ms: int = DAY_MS
    repeats: int = 5
    """Most repeats of an unacknowledged alarm to one contact; after them it stands only in the digest."""
    pass_on_highest_ms: int = 15 * MINUTE_MS
    pass_on_high_ms: int = 1 * HOUR_MS
    pass_on_medium_ms: int = 12 * HOUR_MS
    digest_minute: int = 7 * 60 + 30
    """Local minutes after midnight at which the digest is written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that can change an effect, apart from events.

    Attributes:
        rules: Text (TOML) of each of the site's own rules that a pile uses, by the rule's id.
    """

    site: Site = field(default_factory=Site)
    piles: dict[str, Pile] = field(default_factory=dict)
    bins: dict[str, Bin] = field(default_factory=dict)
    probes: dict[str, Probe] = field(default_factory=dict)
    probe_thresholds: ProbeThresholds = field(default_factory=ProbeThresholds)
    contacts: dict[str, Contact] = field(default_factory=dict)
    notices: NoticePolicy = field(default_factory=NoticePolicy)
    rules: dict[str, str] = field(default_factory=dict)

    def place_name(self, place: str) -> str:
        """Return the name people use for a place; its id if it has none."""
        if place in self.piles:
            return self.piles[place].name
        if place in self.bins:
            return self.bins[place].name
        return "the yard" if place == YARD else place

    def contact_name(self, contact: str) -> str:
        """Return the name of a contact; its id if the settings no longer have it."""
        return self.contacts[contact].name if contact in self.contacts else contact

    def place_of_hand(self, series: str) -> tuple[str, str] | None:
        """Return (place, spot) of a series read by hand, or None if the settings hold no such place."""
        return hand_spot(series, {**self.piles, **self.bins})

    def spots_of(self, place: str) -> tuple[str, ...]:
        """Return the spots of a place for readings by hand, in the order of a round."""
        found = self.piles.get(place) or self.bins.get(place)
        return found.spots if found is not None else ()

    def place_and_id(self, place: str) -> str:
        """Return the name of a place and, in brackets, its id if that is another word."""
        name = self.place_name(place)
        return name if name == place else f"{name} ({place})"
