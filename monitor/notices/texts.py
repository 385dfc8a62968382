"""The words of every alarm, notice and line of the digest.

Rules:
1. The first sentence says the place, what is wrong, one number, since when, the trend, and last, in brackets, the probe; the
   next begins with a verb and says what to do. A limit stands there only as a goal (*needs 131 °F*), or where the number is
   on the right side of it again. `fire` begins with its warning.
2. `short` is that first sentence alone: one line for group messages and digests. `act` is what to do in eight words at most.
3. Plain words only; the terms of the alarm standard stay inside the program. An id without words of its own still makes a
   message.
4. A temperature proves no cause, so a message asks about causes and states none. Danger to people comes before the heap, and
   nobody is asked at night for work that can wait. Nobody is told to reach into a heap that scalds: 140 °F (60 °C) burns in
   seconds (from memory).
5. Turning dry material raises dust and mold, so those texts say to stay upwind. A closed vessel, a shed or a pit can hold gas
   that kills without warning (carbon monoxide, carbon dioxide, hydrogen sulfide, ammonia, little oxygen), so messages that
   send people there warn of it. Local codes and the fire service come before anything said here.

Variants (`Facts.variant`): `stalled` has `no-hold` (never at its hold temperature), else the heap never got warm;
`turning-due` has `cooled`, else the rule asks for more turnings; `round-due` has `early` (it falls due in quiet hours) and
`broken` (the chain of rounds), else the round is missed.

Source: design of this project, section 4 (cautions); water trickled onto a dry hot heap feeds the fire inside (from memory);
the rest is common practice, no published source.
"""

from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from monitor.model.alarm_kinds import CATALOG, WrongSide
from monitor.model.settings import Settings
from monitor.notices.bed_words import BED_WORDS, OUTLIVED
from monitor.notices.evening_words import EVENING_WORDS
from monitor.notices.facts import Phrases
from monitor.notices.fault_words import FAULT_WORDS
from monitor.notices.heap_words import HEAP_WORDS
from monitor.notices.known import Facts
from monitor.notices.line_words import LINE_WORDS
from monitor.notices.notice_words import NOTICE_WORDS
from monitor.notices.probe_words import PROBE_WORDS
from monitor.notices.sentences import Words, plain_head
from monitor.notices.state import Message

WORDS: dict[str, Words] = {
    **HEAP_WORDS,
    **BED_WORDS,
    **PROBE_WORDS,
    **FAULT_WORDS,
    **NOTICE_WORDS,
    **EVENING_WORDS,
    **LINE_WORDS,
}
"""The sentences of every alarm, notice and line of the digest, by its id."""

_SIGNS = {WrongSide.ABOVE: 1, WrongSide.BELOW: -1}


@dataclass(frozen=True, slots=True)
class Glimpse:
    """The shortest words of an alarm.

    Attributes:
        deed: What to do: `turn it`.
        act: The same in eight words at most, or "".
        mind: The danger of doing it, or "".
        steps: The advice in steps, if it has any.
    """

    deed: str
    act: str
    mind: str
    steps: tuple[str, ...] = ()


def glimpse(alarm_id: str, facts: Facts, settings: Settings) -> Glimpse:
    """Return the shortest words of an alarm or notice, for a row that is read while walking past.

    Args:
        alarm_id: As for `compose`.
        facts: The facts of the message.
        settings: Names, unit and time zone of the yard.
    """
    say, words = Phrases(facts, settings), WORDS.get(alarm_id, Words())
    deed, act, mind = (one(say) if one is not None else "" for one in (words.deed, words.act, words.mind))
    return Glimpse(deed or "see to it", act, mind, words.steps(say) if words.steps is not None else ())


def compose(alarm_id: str, facts: Facts, settings: Settings) -> Message:
    """Return the words of an alarm, a one-time notice or a line of the digest, to be read now.

    Args:
        alarm_id: The id of an alarm, a notice (`ready`, `over`, …) or a line of the digest (`cool`, `oxygen`, …).
        facts: The facts of the message.
        settings: Names, unit and time zone of the yard.
    """
    return compose_kept(alarm_id, facts, settings).said(facts.now, ZoneInfo(settings.site.time_zone))


def compose_kept(alarm_id: str, facts: Facts, settings: Settings) -> Message:
    """Return the words of an alarm, notice or line with instants as marks (`instants`), to be read at any time.

    Args:
        alarm_id: As for `compose`.
        facts: The facts of the message.
        settings: Names and unit of the yard.
    """
    kind = CATALOG.get(alarm_id)
    say = Phrases(facts, settings, _SIGNS.get(kind.side, 0) if kind is not None else 0)
    words = WORDS.get(alarm_id, Words()) if not say.outlived else OUTLIVED
    act = words.act(say) if words.act is not None else ""
    if words.whole is not None:
        return replace(words.whole(say), act=act)
    if words.head is not None:
        head = words.head(say)
    else:
        head = plain_head(say, kind.name if kind is not None else alarm_id.replace("-", " "))
    text = f"{head}. {words.advice(say)}" if words.advice is not None else f"{head}."
    return Message(text, head, known=facts.known, act=act)
