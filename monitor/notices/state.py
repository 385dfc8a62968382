"""The values that the desk is given and those that it remembers, plain enough to dump to JSON and back.

A *telling* follows one cause until it is over and no message about it waits. A *slip* says that one contact is to be told
of one telling; slips wait on the contact's *tray* while messages are gathered or held.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum
from zoneinfo import ZoneInfo

from monitor.model.effects import Occasion
from monitor.model.events import Answer
from monitor.model.words import Priority
from monitor.notices.instants import said


class NoticeReason(StrEnum):
    """Why a notice goes to a contact: the `reason` of the effect. Stored, so never renamed."""

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
    """The subject of a line of the digest."""

    CAME_ON = "came on"
    OVER = "over"
    NOTED = "noted"


@dataclass(frozen=True, slots=True)
class Message:
    """Words about one thing: in full, as one line for group messages and digests, and what to do in eight words (`act`).

    Its instants may stand as marks (`instants`), to become words when somebody reads it.
    `known` says whether it still holds now; False: it tells how things stood when the probes were last heard.
    """

    text: str
    short: str
    known: bool = True
    act: str = ""

    @property
    def brief(self) -> str:
        """The line, and what to do if there is anything."""
        return f"{self.short}. {self.act}".rstrip()

    def said(self, now: int, zone: ZoneInfo) -> "Message":
        """Return the message with its marks as times, read at `now` (UTC ms)."""
        return replace(self, text=said(self.text, now, zone), short=said(self.short, now, zone))


BLANK = Message("", "")
"""The message of a desk whose words nobody reads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """Something new that must be told.

    Attributes:
        key: `PLACE/ALARM` or `PLACE/ALARM/PROBE`; names the cause until it is over. A one-time notice is told even if
            another cause has its key.
        place: Pile, bin, `ambient`, or "" for the yard.
        alarm: Id of the alarm or notice.
        priority: LINE appears in the digest only.
        since: When it became true, UTC ms.
        text, short, act: The words, as `texts.compose_kept` returns them.
        one_time: Told once; never repeated, passed on or answered.
        through_quiet: Goes through quiet hours whatever its priority.
        evening: Goes through quiet hours until midnight, since somebody is still up who can act.
        at_once: Goes at once as a message of its own, never gathered with others.
        batch: The batch, or "".
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
    act: str = ""


@dataclass(slots=True, kw_only=True)
class Told:
    """A contact who was told of a telling: when last, the repeats so far, and the next repeat (UTC ms, None: none)."""

    last: int
    repeats: int = 0
    repeat_at: int | None = None


@dataclass(slots=True, kw_only=True)
class Telling:
    """A cause, who was told of it, and who answered; times in UTC ms. Its texts keep their instants as marks."""

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
    act: str = ""

    @classmethod
    def of(cls, cause: Cause) -> "Telling":
        """Return a cause that nobody was told of yet."""
        return cls(
            place=cause.place,
            alarm=cause.alarm,
            priority=cause.priority,
            since=cause.since,
            text=cause.text,
            short=cause.short,
            one_time=cause.one_time,
            through_quiet=cause.through_quiet,
            evening=cause.evening,
            at_once=cause.at_once,
            batch=cause.batch,
            act=cause.act,
        )

    @property
    def running(self) -> bool:
        """Whether the alarm is on and nobody has answered, so that it is repeated and passed on."""
        return not self.one_time and self.ended is None and self.answer is None

    @property
    def standing(self) -> bool:
        """Whether this is an alarm that is on, answered or not."""
        return not self.one_time and self.ended is None


@dataclass(slots=True, kw_only=True)
class Slip:
    """A telling of which one contact is to be told.

    Attributes:
        moved: It was moved here from a contact who went off duty; it is not moved again, or it might wander for ever.
        urgent: It goes through quiet hours whatever the telling's priority (an end for which people are still awake).
    """

    key: str
    occasion: Occasion
    reason: NoticeReason
    moved: bool = False
    urgent: bool = False


@dataclass(slots=True, kw_only=True)
class Tray:
    """The slips that wait for one contact: gathered into one message, or held until quiet hours end (UTC ms).

    A waiting digest covers `digest_since` to `digest_to` (UTC ms), and is written when it goes. `told_to` is set while a
    digest that went early stands for the next (UTC ms): up to where it told.
    """

    gathering: list[Slip] = field(default_factory=list)
    gather_until: int | None = None
    held: list[Slip] = field(default_factory=list)
    held_until: int | None = None
    digest_since: int = 0
    digest_to: int = 0
    digest_until: int | None = None
    told_to: int | None = None


@dataclass(frozen=True, slots=True)
class Digest:
    """A digest: whose it is, its text, and from when on it tells (UTC ms)."""

    contact: str
    text: str
    since: int


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Absence:
    """A contact who is away from `start` to `end` (exclusive; UTC ms), and the entry (its event and row) that says so."""

    contact: str
    start: int
    end: int
    at: int = 0
    row: int = 0


@dataclass(slots=True, kw_only=True)
class DeskState:
    """The desk's whole memory.

    Attributes:
        tellings: By key, in the order in which they came.
        trays: By contact.
        out_of_service: By key; nothing is told of these.
        lines: The newest lines, oldest first, for the digest and *while you were away*; bounded.
        digest_at: When the next digest is due (UTC ms), None before `begin`.
        digest_since: The instant (UTC ms) up to which the last digest told.
        absences: The contacts who are away or will be, in the order in which it was logged.
    """

    tellings: dict[str, Telling] = field(default_factory=dict)
    trays: dict[str, Tray] = field(default_factory=dict)
    out_of_service: dict[str, Shut] = field(default_factory=dict)
    lines: list[Line] = field(default_factory=list)
    digest_at: int | None = None
    digest_since: int = 0
    absences: list[Absence] = field(default_factory=list)
