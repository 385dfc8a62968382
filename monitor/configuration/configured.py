"""A loaded configuration: the settings of the engine, and beside them everything that connects.

Secrets are `SecretStr`, so that no log, traceback or `repr` shows them. Paths are absolute.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import SecretStr

from monitor.model.connections import MqttConnection, SerialPort
from monitor.model.containers import Container
from monitor.model.evening import EveningPolicy
from monitor.model.methane import MethaneFactor
from monitor.model.settings import Settings
from monitor.model.words import BinKind

PHOTOS_MOST = 500_000_000
"""Room for all photos of a yard unless its configuration says otherwise, bytes (our choice): some two thousand."""
PHOTOS_LIMIT = 4_000_000_000
"""The most room that a configuration can give them, bytes (our choice): a yard is packed into one file, and copied."""
PAGE_CHANNEL = "page"
"""Channel that always exists: the notice stands on the page and nothing is sent."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The page: whether it is served, where it listens, and who may come in.

    Attributes:
        link: The address that notices give to people.
        hosts: Further names by which it may be called, lower case.
        password: Required from everybody who is not at this computer; in plain words, or as the page's own hash.
        metrics_token: Required from programs that read the daemon's figures; without one there are none.
    """

    on: bool = True
    port: int = 8460
    listen: str = "127.0.0.1"
    link: str = "http://127.0.0.1:8460"
    hosts: tuple[str, ...] = ()
    password: SecretStr | None = None
    metrics_token: SecretStr | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """A way to a person: `kind` is `url` (an apprise URL), `mqtt` (a topic) or `page`."""

    kind: str
    url: SecretStr | None = None
    topic: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mirror:
    """A server with the InfluxDB v2 write API; `yard` is this yard's name there, "" if it is alone."""

    url: str
    org: str
    bucket: str
    token: SecretStr | None
    yard: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heartbeat:
    """An outside address that hears regularly that the daemon is alive (it often holds a key, so it is a secret)."""

    url: SecretStr
    every_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """Copies of the journal: where they go, how often, and how many are kept."""

    folder: Path
    every_ms: int
    keep: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRule:
    """A rule file of the site's own; `text` is the whole file."""

    id: str
    path: Path
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """The person who compared a rule's figures with the current text, and when (UTC ms)."""

    by: str
    at: int
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BedSize:
    """The size of a worm bed, which only its care needs; None where nobody said.

    Attributes:
        surface_mm2: Its surface in square millimetres.
        worms_g: The weight of its worms in grams.
        begun: When it was begun, UTC ms.
        kind: The kind of its bin.
        depth_mm: Its depth, from the floor or grate to its top.
        indoors: Whether it stands indoors.
        rim_mm: The height of the bin's rim above floor or grate.
    """

    surface_mm2: int | None = None
    worms_g: int | None = None
    begun: int | None = None
    kind: BinKind | None = None
    depth_mm: int | None = None
    rim_mm: int | None = None
    indoors: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermometer:
    """A thermometer that people read; `checked` is the day of its last check in ice water (UTC ms), None if nobody said."""

    name: str = ""
    checked: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Configuration:
    """Everything that is configured.

    Attributes:
        settings: Everything the engine uses.
        source: The file it was read from, or None for the built-in defaults.
        data: Folder of the journal.
        retention_keep_ms: Time for which days are kept, or None for ever.
        photos_most: The room for all photos together, bytes; 0: none are taken.
        document: The merged tables it was made of; only `set_key` reads them.
        rules: Ids of the rules it was checked against, or None if rules were not checked.
        site_rules: The site's own rules, by id.
        confirmed: Confirmations of rules' figures, by the rule's id.
        secret_files: The files that secrets were read from.
        containers: The yard's containers, by the word for them.
        beds: The sizes of the bins, by their ids.
        thermometers: The thermometers that people read, by the word for them.
        lot_tests: The tests without which no lot goes out.
        methane: The yard's own factor for methane, or None.
        evening: The word of the evening before.
        forecast_file: The file that forecasts of the air are read from, or None.
        fire_number: The number of the fire service at the site; "" if nobody wrote one down.
        fire_address: Where the yard is, in the words for the fire service; "" if nobody wrote it down.
    """

    settings: Settings
    source: Path | None
    data: Path
    mqtt: MqttConnection | None = None
    serial: Mapping[str, SerialPort] = field(default_factory=dict)
    page: Page = field(default_factory=Page)
    channels: Mapping[str, Channel] = field(default_factory=dict)
    mirror: Mirror | None = None
    heartbeat: Heartbeat | None = None
    retention_keep_ms: int | None = None
    photos_most: int = PHOTOS_MOST
    backup: Backup | None = None
    site_rules: Mapping[str, SiteRule] = field(default_factory=dict)
    confirmed: Mapping[str, Confirmation] = field(default_factory=dict)
    document: Mapping[str, Any] = field(default_factory=dict, repr=False, compare=False)
    secret_files: tuple[Path, ...] = field(default=(), repr=False, compare=False)
    rules: tuple[str, ...] | None = field(default=None, repr=False, compare=False)
    containers: Mapping[str, Container] = field(default_factory=dict)
    beds: Mapping[str, BedSize] = field(default_factory=dict)
    thermometers: Mapping[str, Thermometer] = field(default_factory=dict)
    lot_tests: tuple[str, ...] = ()
    methane: MethaneFactor | None = None
    fire_number: str = ""
    fire_address: str = ""
    evening: EveningPolicy = field(default_factory=EveningPolicy)
    forecast_file: Path | None = None
