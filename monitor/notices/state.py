"""What the desk is handed and what it remembers; all plain values that dump to JSON and back.

A *telling* is one thing being told, from its cause until it is over and nobody still waits for a word of it. A *slip*
is one thing that one contact is to be told; slips wait on the contact's *tray* while messages are gathered or held.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.model.effects import Occasion
from monitor.model.events import Answer
from monitor.model.words import Priority
from monitor.notices.instants import said


class NoticeReason(StrEnum):
    """Why a notice goes out or went to this contact; the `reason` of the effect. Stored, so never renamed."""

    CAME_ON = "came on"
    STILL_ON = "still on"
    PUT_OFF_ENDED = "put off ended"
    TAKEN_UP = "taken up again"
    MORE_URGENT = "more urgent"
    UNANSWERED = "unanswered"
    TAKEN_OVER = "taken over"
    GATHERED = "gathered"
    OVER = "over"
    DAILY = "daily"
    TEST = "test"


class LineKind(StrEnum):
    """What a line of the digest is about."""

    CAME_ON = "came on"
    OVER = "over"
    NOTED = "noted"


@dataclass(frozen=True, slots=True)
class Message:
    """Words about one thing: in full, and as one line for group messages and digests.

    Its instants may stand as marks (`instants`), to become words when it is read.
    `known` is whether the thing is known to be so now; else it is how things stood when its probes were last heard.
    """

    text: str
    short: str
    known: bool = True

    def said(self, now: int, zone: ZoneInfo) -> "Message":
        """Return it as people say it at `now` (UTC ms)."""
        return Message(said(self.text, now, zone), said(self.short, now, zone), self.known)


BLANK = Message("", "")
"""The words where nobody reads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """Something new that must be told.

    Attributes:
        key: `PLACE/ALARM` or `PLACE/ALARM/PROBE`; names it until it is over. Every one-time notice is told, whatever
            else has its key.
        place: Pile, bin, `ambient`, or "" for the yard.
        alarm: Id of the alarm or notice.
        priority: LINE stands in the digest only.
        since: When it became true, UTC ms.
        text, short: The words, as `texts.compose` gives them.
        one_time: Told once; never repeated or passed on, nothing to answer.
        through_quiet: Goes through quiet hours whatever its priority.
        evening: Goes through quiet hours until midnight: there is still somebody up who can act.
        at_once: Goes apart and at once: it is never gathered into a message with others.
        batch: The batch, if there is one.
    """

    key: str
    place: str
    alarm: str
    priority: Priority
    since: int
    text: str
    short: str
    one_time: bool = False
    through_quiet: bool = False
    evening: bool = False
    at_once: bool = False
    batch: str = ""


@dataclass(slots=True, kw_only=True)
class Told:
    """What one contact knows of a telling: when last told, repeats so far, next repeat (UTC ms, None: none)."""

    last: int
    repeats: int = 0
    repeat_at: int | None = None


@dataclass(slots=True, kw_only=True)
class Telling:
    """A cause and how far the telling of it has come; times in UTC ms. Its texts keep their instants as marks."""

    place: str
    alarm: str
    priority: Priority
    since: int
    text: str
    short: str
    one_time: bool
    through_quiet: bool
    batch: str
    told: dict[str, Told] = field(default_factory=dict)
    pass_on_at: int | None = None
    answer: Answer | None = None
    answered_at: int | None = None
    answered_by: str = ""
    until: int | None = None
    ended: int | None = None
    over_text: str = ""
    over_short: str = ""
    evening: bool = False
    at_once: bool = False

    @property
    def running(self) -> bool:
        """Whether it is on and nobody has answered, so that it is repeated and passed on."""
        return not self.one_time and self.ended is None and self.answer is None

    @property
    def standing(self) -> bool:
        """Whether it is an alarm that is on, answered or not."""
        return not self.one_time and self.ended is None


@dataclass(slots=True, kw_only=True)
class Slip:
    """One thing that one contact is to be told.

    Attributes:
        moved: It waited for somebody who went off duty; it is not moved again, so that it does not wander for ever.
        urgent: Goes through quiet hours whatever the telling's priority (an end that people are awake for).
    """

    key: str
    occasion: Occasion
    reason: NoticeReason
    moved: bool = False
    urgent: bool = False


@dataclass(slots=True, kw_only=True)
class Tray:
    """What waits for one contact: gathered into one message, or held until quiet hours end (UTC ms).

    A digest that waits holds what happened from `digest_since` to `digest_to`, and is written when it goes.
    """

    gathering: list[Slip] = field(default_factory=list)
    gather_until: int | None = None
    held: list[Slip] = field(default_factory=list)
    held_until: int | None = None
    digest_since: int = 0
    digest_to: int = 0
    digest_until: int | None = None


@dataclass(slots=True, kw_only=True)
class Line:
    """One line of the digest; `at` in UTC ms. Its text keeps its instants as marks."""

    at: int
    place: str
    text: str
    kind: LineKind


@dataclass(slots=True, kw_only=True)
class Shut:
    """An alarm that was taken out of service: since when (UTC ms), by whom, its place and its last one-line words."""

    at: int
    place: str
    by: str
    short: str


@dataclass(slots=True, kw_only=True)
class DeskState:
    """All that the desk remembers.

    Attributes:
        tellings: By key, in the order in which they came.
        trays: By contact.
        out_of_service: By key; nothing is told of these.
        lines: What happened, oldest first, for the digest and *while you were away*; bounded.
        digest_at: When the next digest is due, None before `begin`.
        digest_since: Up to where the last digest went.
    """

    tellings: dict[str, Telling] = field(default_factory=dict)
    trays: dict[str, Tray] = field(default_factory=dict)
    out_of_service: dict[str, Shut] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    digest_at: int | None = None
    digest_since: int = 0
