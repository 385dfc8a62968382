"""Sources: listeners to brokers and ports, and the port to the part that takes what arrives.

`MqttSource` and `SerialSource` are loaded when they are first named, so that a yard without a broker does not carry an
MQTT client.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.intake.broker_faults import not_reached, refused
from monitor.intake.inbound import Arrival, Clock, LinkChange, Sink, Source, Token
from monitor.model.connections import MqttConnection, SerialPort, Subscription

if TYPE_CHECKING:
    from monitor.intake.mqtt import MqttSource
    from monitor.intake.serial_port import SerialSource

_LATER = {"MqttSource": "mqtt", "SerialSource": "serial_port"}


def __getattr__(name: str) -> Any:
    """Load a source when it is first asked for."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
