"""Sources: listeners to brokers and ports, and the port to the part that takes what arrives.

`MqttSource` and `SerialSource` are loaded when they are first named, so that a yard without a broker does not carry an
MQTT client.
"""

from typing import TYPE_CHECKING, Any

from monitor.intake.broker_faults import not_reached, refused
from monitor.intake.inbound import Arrival, LinkChange, Sink, Source, Token
from monitor.model.connections import MqttConnection, SerialPort, Subscription

if TYPE_CHECKING:
    from monitor.intake.mqtt import MqttSource
    from monitor.intake.serial_port import SerialSource

from monitor.intake.inbound import Clock

__all__ = [
    "Arrival",
    "Clock",
    "LinkChange",
    "MqttConnection",
    "MqttSource",
    "SerialPort",
    "SerialSource",
    "Sink",
    "Source",
    "Subscription",
    "Token",
    "not_reached",
    "refused",
]


def __getattr__(name: str) -> Any:
    if name == "MqttSource":
        from monitor.intake.mqtt import MqttSource  # noqa: PLC0415 - loaded only when a broker is configured

        return MqttSource
    if name == "SerialSource":
        from monitor.intake.serial_port import SerialSource  # noqa: PLC0415 - as above

        return SerialSource
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
