"""Reasons why a broker cannot be reached, in one sentence: from the library's fault and the course of the connection."""

from typing import NamedTuple

from monitor.model.connection_faults import PASSING, Fault, Where, sentence
from monitor.model.connections import MqttConnection

THROWN_OFF = 3
"""Number of connections, closed by a broker that stays reachable, which is no accident any more (our choice)."""

WITHIN_S = 300.0
"""Seconds within which such closings count, if the broker was not away itself in between (our choice)."""

STEADY_S = 60.0
"""Seconds that a connection must then live before it counts as up (our choice)."""


def where(settings: MqttConnection) -> Where:
    """Return the broker's name and keys for sentences."""
    return Where(
        what="the broker",
        host=settings.host,
        address=f"{settings.host}:{settings.port}",
        authority="name its authority in `mqtt.ca_file`",
        tls="set `mqtt.tls = false`" if settings.tls else "set `mqtt.tls = true`",
        login="`mqtt.username` and `mqtt.password`",
    )


class Reason(NamedTuple):
    """Why there is no connection, and whether somebody must act; then people hear of it though the link is down already."""

    why: str
    lasts: bool


def not_reached(settings: MqttConnection, found: Fault | None) -> Reason:
    """Return why the broker was not reached at all."""
    if settings.tls and found is Fault.BROKE_OFF:
        found = Fault.NO_TLS
    if found is None:
        return Reason(
            f"no connection to the broker at {settings.host}:{settings.port}; check address and network", False
        )
    return Reason(sentence(found, where(settings)), found not in PASSING)


def refused(settings: MqttConnection, reason: str) -> Reason:
    """Return why the broker refused the connection."""
    said = reason.lower()
    if "authori" in said or "user name" in said or "password" in said:
        return Reason(f"{sentence(Fault.LOGIN, where(settings))} ({reason})", True)
    return Reason(f"the broker refuses the connection: {reason}; its own log says more", True)


def ended(settings: MqttConnection, reason: str, *, answered: bool, thrown_off: int) -> Reason:
    """Work out why a connection ended.

    Args:
        settings: The broker.
        reason: The library's words.
        answered: Whether the broker had accepted the connection.
        thrown_off: Number of accepted connections that the broker closed lately, one after another.

    Returns:
        A sentence, and whether somebody must act.
    """
    at = where(settings)
    if "taken over" in reason.lower() or thrown_off >= THROWN_OFF:
        name = f'the client_id "{settings.client_id}"'
        if "taken over" in reason.lower():
            why = f"another program connects with {name} and takes the connection over"
        else:
            why = f"the broker throws us off again and again; another program seems to connect with {name}"
        return Reason(f"{why}; two must not share one: give each its own `mqtt.client_id`", True)
    if not answered:
        # A broker that wants a client's certificate closes the TLS connection only after the handshake.
        return Reason(sentence(Fault.OUR_CERTIFICATE if settings.tls else Fault.WANTS_TLS, at), True)
    said = "" if reason.lower() in ("unspecified error", "normal disconnection") else f" ({reason})"
    return Reason(f"the connection to the broker at {at.address} ended{said}; it is tried again", False)
