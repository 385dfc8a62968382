"""The addresses of sources and the forms of their payloads: frozen values that check themselves. Secrets are never shown.

The configuration makes them and the intake uses them; every list of versions or forms of serial lines is taken from here.
"""

from dataclasses import dataclass, field

from monitor.model.payload_forms import PAYLOAD_FORMS, SENML
from monitor.model.units import Quantity

SERIAL_FORMS = ("lines",)
"""Forms of a serial stream: a message a line, SenML or words with a checksum."""
MQTT_VERSIONS = ("3.1.1", "5")

KEEPALIVE_S_MAX, EXPIRY_S_MAX = 65_535, 2**32 - 1
"""The longest times that fit the protocol's fields (MQTT 5.0, sections 3.1.2.10 and 3.1.2.11.2)."""
RECEIVE_MAXIMUM_MIN = 1000
"""Least number of messages in flight: with fewer, a source is limited to (receive maximum / commit interval)."""


_SUCH_A_PATTERN = "a pattern such as nodes/{probe}/{quantity}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Subscription:
    """Messages of one topic filter, and the form of their payloads.

    Attributes:
        topic: An MQTT topic filter, or a pattern with `{probe}` and `{quantity}` in it, which stand for one level each.
        form: Word of one of `PAYLOAD_FORMS`.
        address: Pattern that extracts address and quantity from a topic, if `topic` itself is none.
        value, time, probe: JSON pointers (RFC 6901), only if the form has them.
        quantity: Quantity of all messages, if the topic does not name it.
        unit: UCUM code of the values, if it is not the probe's.

    Raises:
        ValueError: The parts do not fit together; the message says which.
    """

    topic: str
    form: str = SENML.word
    address: str | None = None
    value: str | None = None
    time: str | None = None
    probe: str | None = None
    quantity: Quantity | None = None
    unit: str | None = None

    def __post_init__(self) -> None:
        """Check the parts as far as possible without a broker."""
        fault = topic_fault(self.topic)
        if fault is not None:
            raise ValueError(f'The topic "{self.topic}" {fault}.')
        form = PAYLOAD_FORMS.get(self.form)
        if form is None:
            raise ValueError(f'"{self.form}" is no payload form; there are {", ".join(PAYLOAD_FORMS)}.')
        if form.pointers and self.value is None:
            raise ValueError(f"{self.topic!r}: form {self.form} needs `value`, a JSON pointer")
        if not form.names_probes and self.pattern is None and not (form.pointers and self.probe is not None):
            right = "`probe`, a JSON pointer, or a pattern for the topic" if form.pointers else _SUCH_A_PATTERN
            raise ValueError(f"{self.topic!r}: form {self.form} needs {right}")

    @property
    def filter(self) -> str:
        """The topic filter to request from the broker."""
        return "/".join(_levels(self.topic))

    @property
    def pattern(self) -> str | None:
        """The pattern that reads a topic, or None."""
        return self.address if self.address is not None else (self.topic if "{" in self.topic else None)


def _levels(topic: str) -> list[str]:
    """Return the levels of a topic's filter: a level with a field of a pattern becomes `+`."""
    return ["+" if "{" in level else level for level in topic.split("/")]


def topic_fault(topic: str) -> str | None:
    """Return the fault of a topic filter (MQTT 5.0, section 4.7), or None."""
    levels = _levels(topic)
    if not topic or "\0" in topic or len(topic.encode("utf-8", "replace")) > 65_535:
        return "is empty or too long"
    if "#" in "".join(levels[:-1]) or ("#" in levels[-1] and levels[-1] != "#"):
        return "has a # that is not alone on the last level"
    if any("+" in level and level != "+" for level in levels):
        return "has a + that is not alone on its level"
    # A shared subscription also gives a sleeping member its share of the messages, which would be missing here.
    return "is a shared subscription, which loses readings" if topic.startswith("$share/") else None


def _can_meet(one: list[str], other: list[str]) -> bool:
    """Return whether some topic matches both filters (`a/#` matches `a` too; MQTT 5.0 section 4.7.1.2)."""
    if one[:1] == ["#"] or other[:1] == ["#"]:
        return True
    if not one or not other:
        return one == other
    if one[0] != other[0] and "+" not in (one[0], other[0]):
        return False
    return _can_meet(one[1:], other[1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class MqttConnection:
    """One broker.

    Attributes:
        client_id: Names the persistent session; two daemons must not share it.
        version: Version of the protocol, one of `MQTT_VERSIONS`.
        tls: Whether to speak TLS; `ca_file` None: the system's authorities.
        cert_file, key_file, key_password: The client's certificate.
        keep_session: Whether the broker keeps a session for the client id; without, nothing of a connection is left there
            (for looking beside the daemon).
        session_expiry_s: Seconds for which the broker keeps messages while nobody is there (version 5).
        receive_maximum: Messages in flight, at least 1000 (version 5); the writer commits well under half of it.
        backoff_min_s, backoff_max_s: Pauses between attempts to connect, doubled each time.

    Raises:
        ValueError: A figure is out of its range.
    """

    name: str = "mqtt"
    host: str = "127.0.0.1"
    port: int = 1883
    subscriptions: tuple[Subscription, ...] = ()
    client_id: str = "heaptender"
    version: str = "5"
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: bool = False
    ca_file: str | None = None
    cert_file: str | None = None
    key_file: str | None = None
    key_password: str | None = field(default=None, repr=False)
    keepalive_s: int = 30
    keep_session: bool = True
    session_expiry_s: int = 7 * 86_400
    receive_maximum: int = 5_000
    backoff_min_s: int = 1
    backoff_max_s: int = 60

    @property
    def overlaps(self) -> tuple[tuple[str, str], ...]:
        """Pairs of topic filters that can match the same topic: a broker may send such a message once for each.

        A message that carries its time is then dropped as a repeat; one without is taken twice, which a person should know.
        """
        filters = tuple(dict.fromkeys(subscription.filter for subscription in self.subscriptions))
        return tuple(
            (one, other)
            for place, one in enumerate(filters)
            for other in filters[place + 1 :]
            if _can_meet(one.split("/"), other.split("/"))
        )

    def __post_init__(self) -> None:
        """Check the figures."""
        if not self.host or not self.client_id:
            raise ValueError(f"mqtt {self.name}: host and client_id must not be empty")
        for key, low, high in (
            ("port", 1, 65_535),
            ("keepalive_s", 5, KEEPALIVE_S_MAX),
            ("session_expiry_s", 1, EXPIRY_S_MAX),
            ("receive_maximum", RECEIVE_MAXIMUM_MIN, 65_535),
            ("backoff_min_s", 1, 3_600),
            ("backoff_max_s", self.backoff_min_s, 86_400),
        ):
            if not low <= getattr(self, key) <= high:
                raise ValueError(f"mqtt {self.name}: {key} is {getattr(self, key)}, allowed are {low} to {high}")


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialPort:
    """One serial port, or anything that pyserial reaches by a URL.

    Attributes:
        url: A device, or a URL such as `socket://host:port`.
        baud: Bits per second.
        form: One of `SERIAL_FORMS`.
        backoff_min_s, backoff_max_s: Pauses between attempts to open it, doubled each time.

    Raises:
        ValueError: A figure is out of its range.
    """

    name: str
    url: str
    baud: int = 115_200
    form: str = "lines"
    backoff_min_s: float = 0.5
    backoff_max_s: float = 30.0

    def __post_init__(self) -> None:
        """Check the figures."""
        if not self.url or self.baud < 1 or not 0 < self.backoff_min_s <= self.backoff_max_s:
            raise ValueError(f"serial {self.name}: url, baud and the back-off must be more than nothing")
