"""The shape of the configuration file: its keys with their types and defaults.

Rules: an unknown key is a fault; nothing is looked up or connected here; `cross_checks` checks keys against one another.
Texts with units stay as they are until a reader of `quantities` has read them.
"""

from collections.abc import Callable
from functools import partial
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, SecretStr
from pydantic_core import PydanticCustomError

from monitor.configuration import quantities
from monitor.configuration.config_problems import UnfitError, one_of, suggestion
from monitor.configuration.configured import PHOTOS_MOST
from monitor.model.connections import MQTT_VERSIONS, SERIAL_FORMS
from monitor.model.evening import EveningPolicy
from monitor.model.payload_forms import PAYLOAD_FORMS
from monitor.model.settings import Contact, DutyWindow, NoticePolicy
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Basis, BinKind, Method, Role

FAULT = "heaptender_fault"
"""Type of the errors that carry a whole sentence in their context."""

V = TypeVar("V")


def _told(read: Callable[[object], V]) -> BeforeValidator:
    """Turn a reader that raises `UnfitError` into a validator whose error keeps both halves of the sentence."""

    def validate(value: object) -> V:
        try:
            return read(value)
        except UnfitError as fault:
            raise PydanticCustomError(FAULT, "{wrong}", {"wrong": fault.wrong, "right": fault.right}) from fault

    return BeforeValidator(validate)


def _word_of(words: tuple[str, ...], noun: str) -> BeforeValidator:
    def read(value: object) -> str:
        if isinstance(value, str) and value in words:
            return value
        right = suggestion(value, words, noun=noun) if isinstance(value, str) else f"write {one_of(words)}"
        raise UnfitError(f"{quantities.show(value)} is no {noun}", right)

    return _told(read)


Milliseconds = Annotated[int, _told(quantities.duration_ms)]
Instant = Annotated[int, _told(quantities.instant_ms)]
Day = Annotated[int, _told(quantities.day_ms)]
MinuteOfDay = Annotated[int, _told(quantities.minute_of_day)]
QuietHours = Annotated[tuple[int, int], _told(quantities.quiet_hours)]
Duty = Annotated[DutyWindow, _told(quantities.duty_window)]
Length = Annotated[int, _told(quantities.length_milli_m)]
Mass = Annotated[int, _told(quantities.mass_g)]
Port = Annotated[int, Field(ge=1, le=65535)]
Table = dict[str, Any]

TEMPERATURE_UNITS = ("degF", "degC")

RoleWord = Annotated[Role, _word_of(tuple(Role), "role")]
QuantityWord = Annotated[Quantity, _word_of(tuple(Quantity), "quantity")]
MethodWord = Annotated[Method, _word_of(tuple(Method), "method")]
BinKindWord = Annotated[BinKind, _word_of(tuple(BinKind), "kind of bin")]
BasisWord = Annotated[Basis, _word_of(tuple(Basis), "basis")]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class SitePart(_Part):
    """`[site]`: the yard as a whole."""

    name: str = "Yard"
    time_zone: str = "UTC"
    temperature_unit: Annotated[str, _word_of(TEMPERATURE_UNITS, "temperature unit")] = "degC"
    data: str = "data"
    summer: list[Annotated[int, Field(ge=1, le=12)]] = [6, 7, 8]
    fire_number: str = ""
    fire_address: str = ""


class PilePart(_Part):
    """`[piles.ID]`: a spot where a heap is hot-composted."""

    name: str | None = None
    rule: str = "none"
    method: MethodWord = Method.TURNED
    built: Instant | None = None
    spots: list[str] = []
    thresholds: Table = {}


class BinPart(_Part):
    """`[bins.ID]`: a bed with composting worms."""

    name: str | None = None
    spots: list[str] = []
    thresholds: Table = {}
    surface: Annotated[int, _told(quantities.area_mm2)] | None = None
    worms: Mass | None = None
    begun: Day | None = None
    kind: BinKindWord | None = None
    width: Length | None = None
    length: Length | None = None
    depth: Length | None = None
    rim: Length | None = None
    indoors: bool | None = None


class CalibrationPart(_Part):
    """`[[probes.ID.calibration]]`: the values that the probe showed beside the true ones."""

    start: Instant | None = Field(default=None, alias="from")
    points: list[tuple[Any, Any]] = Field(min_length=1, max_length=2)
    by: str = ""
    note: str = ""


class ContainerPart(_Part):
    """`[containers.ID]`: a bucket, barrow or bag of the yard."""

    volume: Annotated[int, _told(quantities.volume_ml)] | None = None
    tare: Mass | None = None
    full: dict[str, list[Mass]] = {}


class ThermometerPart(_Part):
    """`[thermometers.ID]`: a thermometer that people read."""

    name: str = ""
    checked: Day | None = None


class LotsPart(_Part):
    """`[lots]`: lots of castings and compost."""

    tests: list[str] = []


class ReportPart(_Part):
    """`[report]`: the yard's own factor for methane, and where that figure comes from."""

    methane_factor: float | None = Field(default=None, gt=0, le=1, allow_inf_nan=False)
    methane_source: str = ""


class ProbePart(_Part):
    """`[probes.ID]`: one sensing point."""

    place: str
    role: RoleWord | None = None
    quantity: QuantityWord = Quantity.TEMPERATURE
    address: str | None = None
    name: str = ""
    unit: str | None = None
    depth: Length | None = None
    resolution: str | int | float | None = None
    uncertainty: Annotated[int, _told(partial(quantities.difference_milli_k, example="0.5 K"))] | None = None
    source: str = ""
    basis: BasisWord = Basis.WET_MASS
    bulk_density: Annotated[int, _told(quantities.density_kg_m3)] | None = None
    calibration: list[CalibrationPart] = []


class ThresholdsPart(_Part):
    """`[thresholds.pile]`, `[thresholds.bin]`, `[thresholds.probe]`: limits for the whole yard."""

    pile: Table = {}
    bin: Table = {}
    probe: Table = {}


class ContactPart(_Part):
    """`[contacts.ID]`: a person who gets notices."""

    name: str | None = None
    channels: list[str] = []
    places: list[str] = []
    order: int = Field(default=1, ge=1, le=99)
    duty: list[Duty] = []
    quiet: QuietHours = (Contact(name="").quiet_start_minute, Contact(name="").quiet_end_minute)
    digest: bool = True


_POLICY = NoticePolicy()
_EVENING = EveningPolicy()


class NoticesPart(_Part):
    """`[notices]`: when a notice is repeated, passed on, gathered or summed up."""

    gather: Milliseconds = _POLICY.gather_ms
    repeat_highest: Milliseconds = _POLICY.repeat_highest_ms
    repeat_high: Milliseconds = _POLICY.repeat_high_ms
    repeat_medium: Milliseconds = _POLICY.repeat_medium_ms
    repeat_low: Milliseconds = _POLICY.repeat_low_ms
    repeats: int = Field(default=_POLICY.repeats, ge=0, le=100)
    pass_on_highest: Milliseconds = _POLICY.pass_on_highest_ms
    pass_on_high: Milliseconds = _POLICY.pass_on_high_ms
    pass_on_medium: Milliseconds = _POLICY.pass_on_medium_ms
    digest: MinuteOfDay = _POLICY.digest_minute


class EveningPart(_Part):
    """`[evening]`: the word of the evening before."""

    tell: bool = _EVENING.tell
    frost: bool = _EVENING.frost
    at: MinuteOfDay = _EVENING.minute
    within: Annotated[int, _told(partial(quantities.difference_milli_k, example="8 degF"))] = _EVENING.within_milli_k
    days: int = Field(default=_EVENING.days, ge=2, le=30)
    file: str | None = None


class ChannelPart(_Part):
    """`[channels.ID]`: a way to a person: a notification URL, or an MQTT topic."""

    kind: Annotated[str, _word_of(("url", "mqtt"), "kind of channel")] = "url"
    url: SecretStr | None = None
    url_file: str | None = None
    topic: str | None = None


class SubscriptionPart(_Part):
    """`[[mqtt.subscriptions]]`: a topic filter and how its payloads are written."""

    topic: str
    form: Annotated[str, _word_of(tuple(PAYLOAD_FORMS), "payload form")]
    address: str | None = None
    quantity: QuantityWord | None = None
    unit: str | None = None
    value: str | None = None
    time: str | None = None
    probe: str | None = None


class MqttPart(_Part):
    """`[mqtt]`: the broker."""

    host: str = "127.0.0.1"
    port: Port | None = None
    client_id: str = "heaptender"
    version: Annotated[str, _word_of(MQTT_VERSIONS, "version of MQTT")] = "5"
    username: str | None = None
    password: SecretStr | None = None
    password_file: str | None = None
    tls: bool = False
    ca_file: str | None = None
    cert_file: str | None = None
    key_file: str | None = None
    keep_alive: Milliseconds = MINUTE_MS
    session_expiry: Milliseconds = 7 * DAY_MS
    subscriptions: list[SubscriptionPart] = []


class SerialPart(_Part):
    """`[serial.ID]`: a serial port."""

    url: str
    baud: int = Field(default=115200, ge=50, le=4_000_000)
    form: Annotated[str, _word_of(SERIAL_FORMS, "form")] = "lines"


class PagePart(_Part):
    """`[page]`: the page in the browser."""

    on: bool = True
    port: Port = 8460
    listen: str = "127.0.0.1"
    link: str | None = None
    hosts: list[str] = []
    password: SecretStr | None = None
    password_file: str | None = None
    metrics_token: SecretStr | None = None
    metrics_token_file: str | None = None


class MirrorPart(_Part):
    """`[mirror]`: a server with the InfluxDB v2 write API."""

    url: str
    org: str = ""
    bucket: str = "heaptender"
    yard: str = ""
    token: SecretStr | None = None
    token_file: str | None = None


class HeartbeatPart(_Part):
    """`[heartbeat]`: an outside address that hears regularly that the daemon is alive."""

    url: SecretStr | None = None
    url_file: str | None = None
    every: Milliseconds = 5 * MINUTE_MS


class RetentionPart(_Part):
    """`[retention]`: the time for which days are kept."""

    keep: str = "forever"


class PhotosPart(_Part):
    """`[photos]`: the room for photos that go with remarks."""

    most: Annotated[int, _told(quantities.room_bytes)] = PHOTOS_MOST


class BackupPart(_Part):
    """`[backup]`: the folder for copies of the journal."""

    folder: str
    every: Milliseconds = 24 * HOUR_MS
    keep: int = Field(default=14, ge=1, le=10_000)


class ConfirmedPart(_Part):
    """`[rules.confirmed.ID]`: the person who compared a rule's figures with the current text."""

    by: str
    at: Day
    note: str = ""


class RulesPart(_Part):
    """`[rules]`: the site's own rules, and the confirmations of any rule."""

    files: list[str] = []
    confirmed: dict[str, ConfirmedPart] = {}


class Document(_Part):
    """The whole file, with the environment merged in."""

    model_config = ConfigDict(validate_default=True)

    site: SitePart = SitePart()
    piles: dict[str, PilePart] = {}
    bins: dict[str, BinPart] = {}
    probes: dict[str, ProbePart] = {}
    thresholds: ThresholdsPart = ThresholdsPart()
    containers: dict[str, ContainerPart] = {}
    thermometers: dict[str, ThermometerPart] = {}
    lots: LotsPart = LotsPart()
    report: ReportPart = ReportPart()
    contacts: dict[str, ContactPart] = {}
    notices: NoticesPart = NoticesPart()
    evening: EveningPart = EveningPart()
    channels: dict[str, ChannelPart] = {}
    mqtt: MqttPart | None = None
    serial: dict[str, SerialPart] = {}
    page: PagePart = PagePart()
    mirror: MirrorPart | None = None
    heartbeat: HeartbeatPart | None = None
    retention: RetentionPart = RetentionPart()
    photos: PhotosPart = PhotosPart()
    backup: BackupPart | None = None
    rules: RulesPart = RulesPart()
