"""One message to one contact over one channel, with the state of its delivery: a row of the outbox."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.model.words import Priority


class Delivery(StrEnum):
    """The states of a delivery; stored, so never renamed."""

    WAITING = "waiting"
    HANDED = "handed"
    DELIVERED = "delivered"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeRow:
    """One message to one contact over one channel.

    Attributes:
        id: The row's number.
        at, ordinal: The notice effect's id; `at` is also when it was decided, UTC ms.
        contact, channel, place: Their ids; the place is "" for the yard as a whole.
        notice: Short id that every message shows.
        occasion: As in `model.effects.Occasion`.
        text: The message.
        attempts: Number of times the row was handed over.
        next_try: Earliest instant of the next try, UTC ms.
        maybe_repeat: Whether it may have been delivered already.
        why: Why the last try failed, or "".
    """

    id: int
    at: int
    ordinal: int = 0
    contact: str
    channel: str
    notice: str
    place: str = ""
    occasion: str
    priority: Priority
    text: str
    state: Delivery = Delivery.WAITING
    attempts: int = 0
    next_try: int
    maybe_repeat: bool = False
    why: str = ""
