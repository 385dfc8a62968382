"""Checks keys against one another: names that must exist, roles that must fit, entries that must not occur twice.

Rules: nothing is connected or opened; names are looked up in the tables as written, so that a faulty pile causes no
second fault at its probes.
"""

import re
import zoneinfo
from collections.abc import Collection, Mapping
from typing import Any

from monitor.configuration.config_document import Document, ProbePart
from monitor.configuration.config_problems import KeyPath, Problems, nearest, one_of, suggestion
from monitor.configuration.configured import PAGE_CHANNEL
from monitor.configuration.connection_keys import check_unit
from monitor.model.containers import CONTAINERS, Container
from monitor.model.methane import MethaneFactor
from monitor.model.readings import HAND_PREFIX
from monitor.model.settings import AMBIENT, PAGE_CONTACT, YARD
from monitor.model.words import Basis, Role

_SPOT = re.compile(r"[\w .-]{1,24}")
_ID = re.compile(r"[A-Za-z0-9:._/-]{1,64}", re.ASCII)

_ABBREVIATION = re.compile(r"[A-Z]{2,5}")
_TOWN = "America/New_York"
_TOWNS = {
    "CEST": "Europe/Berlin", "BST": "Europe/London", "IST": "Asia/Kolkata", "EDT": _TOWN, "CDT": "America/Chicago",
    "MDT": "America/Denver", "PDT": "America/Los_Angeles", "PST": "America/Los_Angeles", "AEST": "Australia/Sydney",
    "AEDT": "Australia/Sydney", "NZST": "Pacific/Auckland", "NZDT": "Pacific/Auckland", "EEST": "Europe/Athens",
}  # fmt: skip
"""An example town for the short names that people write most; only they know which zone they mean."""

_ROLES = {"pile": (Role.CORE, Role.SURFACE), "bin": (Role.BEDDING, Role.SURFACE), AMBIENT: (Role.AMBIENT,)}
"""Roles that a probe can have, by kind of place; the first is the default."""


def default_role(kind: str) -> Role:
    """Return the role of a probe that states none: core in a pile, bedding in a bin."""
    return _ROLES[kind][0]


class Names:
    """The ids as written, whether or not the rest of their tables is right."""

    def __init__(self, tables: Mapping[str, Any]) -> None:
        """Take the ids out of the merged tables."""

        def ids(section: str) -> list[str]:
            table = tables.get(section)
            return list(table) if isinstance(table, Mapping) else []

        self.piles = ids("piles")
        self.bins = ids("bins")
        self.probes = ids("probes")
        self.channels = [*ids("channels"), PAGE_CHANNEL]
        self.contacts = ids("contacts")

    def kind(self, place: str) -> str | None:
        """Return `pile`, `bin` or `ambient`, or None for a place that is not configured."""
        if place == AMBIENT:
            return AMBIENT
        if place in self.piles:
            return "pile"
        return "bin" if place in self.bins else None

    @property
    def places(self) -> list[str]:
        """All places a probe can be in."""
        return [*self.piles, *self.bins, AMBIENT]


def check_ids(names: Names, problems: Problems) -> None:
    """Check the spelling of ids, and that none is reserved or used for two places."""
    sections = {"piles": names.piles, "bins": names.bins, "probes": names.probes, "contacts": names.contacts}
    for section, ids in sections.items():
        for name in ids:
            if not _ID.fullmatch(name):
                wrong = f'the id "{name}" holds a character that ids do not have'
                problems.add((section, name), wrong, "use up to 64 of A-Z, a-z, 0-9 and - : . _ /")
            if section in {"piles", "bins"} and name == AMBIENT:
                problems.add((section, name), f'"{AMBIENT}" is the air of the yard', "give the place another id")
            if section in {"piles", "bins"} and name == YARD:
                problems.add((section, name), f'"{YARD}" is the whole yard', "give the place another id")
            if section == "probes" and name.startswith(HAND_PREFIX):
                wrong = f'ids beginning with "{HAND_PREFIX}" are those of readings taken by hand'
                problems.add((section, name), wrong, "give the probe another id")
            if section == "contacts" and name == PAGE_CONTACT:
                problems.add((section, name), f'"{PAGE_CONTACT}" stands for the page', "give the contact another id")
    for name in names.bins:
        if name in names.piles:
            problems.add(("bins", name), f'"{name}" is a pile already', "give the bin another id")


def check_spots(document: Document, problems: Problems) -> None:
    """Check the names of the spots at which places are read by hand."""
    places = {**document.piles, **document.bins}
    for section, parts in (("piles", document.piles), ("bins", document.bins)):
        for name, part in parts.items():
            seen: set[str] = set()
            for number, spot in enumerate(part.spots):
                path = (section, name, "spots", number)
                if not _SPOT.fullmatch(spot) or spot != spot.strip():
                    problems.add(
                        path, f'"{spot}" is no name of a spot', "use up to 24 letters, digits, blanks and - . _"
                    )
                elif spot.casefold() in seen:
                    problems.add(path, f'the spot "{spot}" stands there twice', "give each spot a name of its own")
                elif f"{name}:{spot}" in places:
                    problems.add(path, f'"{name}:{spot}" is a place of its own', "give the spot another name")
                seen.add(spot.casefold())


def containers(document: Document, problems: Problems) -> dict[str, Container]:
    """Return the yard's containers, and check that each is one that amounts are given in, and heavier full than empty.

    Args:
        document: A document of the right shape.
        problems: Receives the faults.
    """
    found = {}
    for name, part in document.containers.items():
        if name not in CONTAINERS:
            problems.add(("containers", name), f'"{name}" is no container', f"write {one_of(CONTAINERS)}")
            continue
        tare = part.tare or 0
        for material, masses in part.full.items():
            light = next((number for number, mass in enumerate(masses) if mass <= tare), None)
            if light is not None or not masses:
                wrong = "it was weighed nowhere" if light is None else "a full one weighs no more than its tare"
                problems.add(
                    ("containers", name, "full", material), wrong, "write the masses of full ones, container and all"
                )
        full = {material: tuple(masses) for material, masses in part.full.items() if masses}
        found[name] = Container(volume_ml=part.volume, tare_g=tare, full_g=full)
    return found


def check_site(document: Document, rules: Collection[str] | None, problems: Problems) -> None:
    """Check the time zone, the folder of the journal, and the rules of the piles.

    Args:
        document: A document of the right shape.
        rules: Ids of the rules there are; None leaves the piles' rules unchecked.
        problems: Receives the faults.
    """
    zone = document.site.time_zone
    try:
        zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        if _ABBREVIATION.fullmatch(zone):
            # Several zones share such letters, and the most similar name may be hours away, so suggest a town instead.
            right = (
                f'short names stand for several zones; write the zone of a town, such as "{_TOWNS.get(zone, _TOWN)}"'
            )
        else:
            near = nearest(zone, zoneinfo.available_timezones())
            right = f'did you mean "{near}"?' if near else f'write one of the tz database, such as "{_TOWN}"'
        problems.add(("site", "time_zone"), f'the time zone "{zone}" is unknown', right)
    if not document.site.data.strip():
        problems.add(("site", "data"), "it is empty", 'write the folder of the journal, such as "data"')
    for name, pile in document.piles.items():
        if rules is not None and pile.rule != "none" and pile.rule not in rules:
            wrong = f'the rule "{pile.rule}" is unknown'
            right = suggestion(pile.rule, [*rules, "none"], noun="rule")
            problems.add(("piles", name, "rule"), wrong, right + (" (`heaptender rules` lists them)" if rules else ""))


def check_probes(document: Document, names: Names, problems: Problems) -> None:
    """Check each probe by itself and against the others.

    Args:
        document: A document of the right shape.
        names: The ids of places as written.
        problems: Receives the faults.
    """
    taken: dict[tuple[str, str], str] = {}
    for name, probe in document.probes.items():
        path: KeyPath = ("probes", name)
        kind = names.kind(probe.place)
        if kind is None:
            wrong = f'there is no place "{probe.place}"'
            problems.add((*path, "place"), wrong, suggestion(probe.place, names.places, noun="place"))
        elif probe.role is not None and probe.role not in _ROLES[kind]:
            where = "the air of the yard" if kind == AMBIENT else f'the {kind} "{probe.place}"'
            right = f"write {one_of([f'{chr(34)}{role}{chr(34)}' for role in _ROLES[kind]])}"
            problems.add((*path, "role"), f'"{probe.role}" is no role in {where}', right)
        key = (probe.address or name, probe.quantity.value)
        if key in taken:
            wrong = f'the {key[1]} of address "{key[0]}" belongs to the probe "{taken[key]}" already'
            problems.add((*path, "address" if probe.address else "quantity"), wrong, "give one of them another address")
        taken.setdefault(key, name)
        sources = [*document.serial, *(["mqtt"] if document.mqtt is not None else [])]
        if probe.source and probe.source not in sources:
            right = suggestion(probe.source, sources, noun="source")
            problems.add((*path, "source"), f'there is no source "{probe.source}"', right)
        _check_units(probe, path, problems)


def _check_units(probe: ProbePart, path: KeyPath, problems: Problems) -> None:
    check_unit(probe.unit, probe.quantity, path, problems)
    moisture = probe.quantity == "moisture"
    if probe.basis is not Basis.WET_MASS and not moisture:
        problems.add((*path, "basis"), f"a probe of {probe.quantity} has no basis", "leave it out")
    if moisture and probe.basis is Basis.VOLUME and probe.bulk_density is None:
        wrong = "from volume to wet mass a bulk density is needed"
        problems.add((*path, "basis"), wrong, 'add bulk_density, such as "550 kg/m3"')
    if probe.bulk_density is not None and not (moisture and probe.basis is Basis.VOLUME):
        wrong = 'it serves only a moisture probe with basis "volume"'
        problems.add((*path, "bulk_density"), wrong, "leave it out")


def methane(document: Document, problems: Problems) -> MethaneFactor | None:
    """Return the yard's factor for methane; a factor without a source, or a source without a factor, is a fault.

    Args:
        document: A document of the right shape.
        problems: Receives the faults.
    """
    factor, source = document.report.methane_factor, document.report.methane_source.strip()
    if factor is None and source:
        wrong = "it is the source of no figure"
        problems.add(("report", "methane_source"), wrong, "add methane_factor, kg of methane for each kg taken in")
    if factor is not None and not source:
        wrong = "nobody can tell where this figure comes from"
        problems.add(("report", "methane_factor"), wrong, "add methane_source, such as a report and its table")
    return None if factor is None or not source else MethaneFactor(factor, source)


_DIALED = re.compile(r"\+?[0-9](?:[ ()-]?[0-9]){1,19}")


def fire_number(document: Document, problems: Problems) -> str:
    """Return the number of the fire service at the site, or ""; one that no phone can dial is a fault.

    Args:
        document: A document of the right shape.
        problems: Receives the faults.
    """
    written = document.site.fire_number.strip()
    if written and not _DIALED.fullmatch(written):
        wrong = f'"{written}" is no number that a phone can dial'
        problems.add(("site", "fire_number"), wrong, 'write it such as "911" or "+1 555 0100"')
        return ""
    return written


def check_contacts(document: Document, names: Names, problems: Problems) -> None:
    """Check that contacts' channels and places exist.

    Args:
        document: A document of the right shape.
        names: The ids of places and channels as written.
        problems: Receives the faults.
    """
    for name, contact in document.contacts.items():
        for index, channel in enumerate(contact.channels):
            if channel not in names.channels:
                right = suggestion(channel, names.channels, noun="channel")
                problems.add(("contacts", name, "channels", index), f'there is no channel "{channel}"', right)
        for index, place in enumerate(contact.places):
            if names.kind(place) is None:
                right = suggestion(place, names.places, noun="place")
                problems.add(("contacts", name, "places", index), f'there is no place "{place}"', right)
