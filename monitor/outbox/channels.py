"""Ways to a person that need no library: an MQTT topic, and the page."""

from collections.abc import Callable
from typing import Protocol

from monitor.outbox.outgoing_letters import Letter


class DeliveryError(Exception):
    """A letter was not accepted; the text says why, without secrets."""


class Channel(Protocol):
    """A way to a person.

    `send` is called on a thread of its own, one letter at a time; a call that takes too long is given up,
    so `send` may be called again while an earlier call still hangs. After it returned, the next hop has accepted the letter;
    after an exception it has not, or nobody knows. `send` may be called again after any failure.
    """

    def send(self, letter: Letter) -> None:
        """Hand a letter over.

        Raises:
            DeliveryError: The letter was not accepted.
        """


Publish = Callable[[str, bytes], None]
"""Publishes a payload to a topic and returns once the broker has acknowledged it; raises if it did not."""


class MqttChannel:
    """Publishes letters as JSON to one topic."""

    def __init__(self, topic: str, publish: Publish) -> None:
        """Take the topic and the way to the broker, which the app owns."""
        self._topic = topic
        self._publish = publish

    def send(self, letter: Letter) -> None:
        """Publish a letter; any exception of `publish` counts as not accepted."""
        self._publish(self._topic, letter.data)


class PageChannel:
    """The page shows the notices out of the journal itself: nothing is sent."""

    def send(self, letter: Letter) -> None:
        """Accept a letter."""
