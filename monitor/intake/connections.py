"""How sources are reached: frozen settings that check themselves. Secrets are never shown.

The configuration has its own image of these; the app fills them from it.
"""

from dataclasses import dataclass, field
from typing import Literal

from monitor.codec import PointerForm, TopicPattern, parse_pointer

Form = Literal["senml", "number", "json"]

RECEIVE_MAXIMUM_MIN = 1000
"""Fewer messages in flight than this hold a source back to (receive maximum / commit interval)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subscription:
    """Messages of one topic filter, and the form of their payloads.

    Attributes:
        topic: An MQTT topic filter, or a pattern with `{probe}` and `{quantity}` in it, which stand for one level each.
        form: `senml`; `number` (the payload is the value); `json` (pointers name value, time and probe).
        address: Pattern that gets address and quantity out of a topic, where `topic` itself is none.
        value, time, probe: JSON pointers (RFC 6901), form `json` only.
        quantity: Quantity's word, where all messages are of one quantity and the topic does not say it.
        unit: Unit code of the values, where it is not the probe's.

    Raises:
        ValueError: The parts do not go together; the text says which.
    """

    topic: str
    form: Form = "senml"
    address: str | None = None
    value: str | None = None
    time: str | None = None
    probe: str | None = None
    quantity: str | None = None
    unit: str | None = None

    def __post_init__(self) -> None:
        """Check what can be checked without a broker."""
        _check_filter(self.topic, self.filter)
        pattern = self.pattern
        if pattern is not None:
            TopicPattern(pattern)
        if self.form == "number" and pattern is None:
            raise ValueError(f"{self.topic!r}: form number needs a pattern such as nodes/{{probe}}/{{quantity}}")
        if self.form == "json":
            if self.value is None:
                raise ValueError(f"{self.topic!r}: form json needs `value`, a JSON pointer")
            if self.probe is None and pattern is None:
                raise ValueError(f"{self.topic!r}: form json needs `probe`, a JSON pointer, or a pattern for the topic")
        for pointer in (self.value, self.time, self.probe):
            if pointer is not None:
                parse_pointer(pointer)

    @property
    def filter(self) -> str:
        """The topic filter that the broker is asked for."""
        return "/".join("+" if "{" in level else level for level in self.topic.split("/"))

    @property
    def pattern(self) -> str | None:
        """The pattern that a topic is read by, or None."""
        return self.address if self.address is not None else (self.topic if "{" in self.topic else None)

    @property
    def pointers(self) -> PointerForm:
        """The pointers of form `json`."""
        return PointerForm(
            value=self.value or "", time=self.time, probe=self.probe, quantity=self.quantity, unit=self.unit
        )


def _check_filter(topic: str, wanted: str) -> None:
    if not topic or "\0" in topic or len(topic.encode()) > 65_535:
        raise ValueError(f"{topic!r} is not an MQTT topic filter")
    levels = wanted.split("/")
    for place, level in enumerate(levels):
        # Source: MQTT 5.0 section 4.7.1 (wildcards stand alone in a level, # only in the last).
        if ("+" in level and level != "+") or ("#" in level and (level != "#" or place + 1 < len(levels))):
            raise ValueError(f"{topic!r} is not an MQTT topic filter: + and # stand alone, # at the end")


def _can_meet(one: list[str], other: list[str]) -> bool:
    """Tell whether some topic matches both filters (`a/#` matches `a` too; MQTT 5.0 section 4.7.1.2)."""
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
        version: Of the protocol, `5` or `3.1.1`.
        tls: Whether to speak TLS; `ca_file` None: the system's authorities.
        cert_file, key_file, key_password: The client's certificate.
        keep_session: Whether the broker keeps a session for the client id; without, nothing of a connection is left there
            (for looking beside the daemon).
        session_expiry_s: How long the broker keeps what comes while nobody is there (version 5).
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
    version: Literal["5", "3.1.1"] = "5"
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

        What carries its time is then dropped as a repeat; what does not is taken twice, which a person should know.
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
            ("keepalive_s", 5, 65_535),
            ("session_expiry_s", 1, 2**32 - 1),
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
        form: `lines`: one line a message, SenML or words with a checksum.
        backoff_min_s, backoff_max_s: Pauses between attempts to open it, doubled each time.

    Raises:
        ValueError: A figure is out of its range.
    """

    name: str
    url: str
    baud: int = 115_200
    form: Literal["lines"] = "lines"
    backoff_min_s: float = 0.5
    backoff_max_s: float = 30.0

    def __post_init__(self) -> None:
        """Check the figures."""
        if not self.url or self.baud < 1 or not 0 < self.backoff_min_s <= self.backoff_max_s:
            raise ValueError(f"serial {self.name}: url, baud and the back-off must be more than nothing")
