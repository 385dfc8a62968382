"""Finds the decoder for a topic's payloads; works it out once a topic.

Rules: 1. The first subscription whose filter matches decides. 2. Several subscriptions with the very same filter all
read the message, so that one JSON document can hold several values. 3. A topic that fits no subscription (left in a
session from an earlier configuration) or no pattern is set aside, never dropped unseen.
"""

from collections.abc import Sequence

from paho.mqtt.client import topic_matches_sub

from monitor.codec import (
    LIMIT_BYTES,
    Decoded,
    Decoder,
    Reject,
    TopicPattern,
    decoder_of,
    excerpt,
    parse_pointer,
)
from monitor.model.connections import Subscription
from monitor.model.quarantine import SetAside

_TOPICS_MAX = 10_000


class TopicTable:
    """The decoders of one connection's topics. Used by its thread alone."""

    def __init__(self, subscriptions: Sequence[Subscription], limit: int = LIMIT_BYTES) -> None:
        """Group the subscriptions by their filter.

        Raises:
            ValueError: A pattern or a pointer cannot be read; the message says which.
        """
        self._limit = limit
        self._by_filter: dict[str, list[Subscription]] = {}
        for subscription in subscriptions:
            self._by_filter.setdefault(subscription.filter, []).append(subscription)
            if subscription.pattern is not None:
                TopicPattern(subscription.pattern)
            for pointer in (subscription.value, subscription.time, subscription.probe):
                if pointer is not None:
                    parse_pointer(pointer)
        self.known: dict[str, Decoder] = {}

    @property
    def filters(self) -> tuple[str, ...]:
        """The topic filters to subscribe to, each once."""
        return tuple(self._by_filter)

    def decoder(self, topic: str) -> Decoder:
        """Return the decoder of a topic's payloads, and remember it in `known`; at most 10,000 topics are remembered."""
        found = self.known.get(topic)
        if found is None:
            if len(self.known) >= _TOPICS_MAX:
                self.known.clear()
            found = self.known[topic] = self._find(topic)
        return found

    def _find(self, topic: str) -> Decoder:
        for wanted, subscriptions in self._by_filter.items():
            if topic_matches_sub(wanted, topic):
                decoders = [self._build(subscription, topic) for subscription in subscriptions]
                return decoders[0] if len(decoders) == 1 else _all_of(decoders)
        return _refusing("no subscription is for this topic")

    def _build(self, subscription: Subscription, topic: str) -> Decoder:
        address = quantity = None
        if subscription.pattern is not None:
            found = TopicPattern(subscription.pattern).match(topic)
            if found is None:
                return _refusing(f"the topic does not fit {subscription.pattern}")
            address, quantity = found
        quantity = quantity if quantity is not None else subscription.quantity
        return decoder_of(subscription, address, quantity, self._limit)


def _refusing(why: str) -> Decoder:
    def refuse(payload: bytes | bytearray, _received: int, _stale: bool) -> Decoded:
        return Decoded((), (Reject(SetAside.UNKNOWN_PROBE, why, excerpt(payload)),))

    return refuse


def _all_of(decoders: Sequence[Decoder]) -> Decoder:
    def read(payload: bytes | bytearray, received: int, stale: bool) -> Decoded:
        results = [decoder(payload, received, stale) for decoder in decoders]
        return Decoded(
            tuple(heard for result in results for heard in result.heard),
            tuple(dict.fromkeys(reject for result in results for reject in result.rejects)),
            any(result.untimed for result in results),
        )

    return read
