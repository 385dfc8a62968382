"""The decoder of each payload form; a test checks that each declared form has one."""

from collections.abc import Callable

from monitor.codec.decoded import Decoder
from monitor.codec.number import NumberDecoder
from monitor.codec.pointers import PointerDecoder, PointerForm
from monitor.codec.senml import decode_senml
from monitor.model.connections import Subscription
from monitor.model.payload_forms import JSON, NUMBER, SENML

Reads = Callable[[Subscription, str | None, str | None, int], Decoder]
"""(subscription, the probe's address and the quantity from the topic, longest payload in bytes) -> decoder."""


def _number(subscription: Subscription, address: str | None, quantity: str | None, limit: int) -> Decoder:
    return NumberDecoder(address or "", quantity, subscription.unit, limit=limit)


def _json(subscription: Subscription, address: str | None, quantity: str | None, limit: int) -> Decoder:
    pointers = PointerForm(
        value=subscription.value or "",
        time=subscription.time,
        probe=subscription.probe,
        quantity=subscription.quantity,
        unit=subscription.unit,
    )
    return PointerDecoder(pointers, address, quantity, limit=limit)


DECODERS: dict[str, Reads] = {
    SENML.word: lambda _subscription, _address, _quantity, _limit: decode_senml,
    NUMBER.word: _number,
    JSON.word: _json,
}


def decoder_of(subscription: Subscription, address: str | None, quantity: str | None, limit: int) -> Decoder:
    """Make the decoder of a subscription's payloads on one topic.

    Args:
        subscription: With its form, pointers and unit.
        address: The probe's address, if the topic names it.
        quantity: The quantity, if topic or subscription name it.
        limit: Longest payload that is decoded, bytes.

    Returns:
        The decoder; it never raises.
    """
    return DECODERS[subscription.form](subscription, address, quantity, limit)
