"""The words of every alarm, notice and line of the digest.

Rules:
1. The first sentence carries the place, what is wrong, the number with its limit, since when and where it is heading;
   the next begins with a verb and says what to do. `turning-due` and `fire` bring their warning into the beginning.
2. `short` is that first sentence alone: one line for group messages and digests.
3. Plain words only; the words of the alarm standard stay inside. An id without words of its own still makes a message.
4. From temperature alone no cause is stated, only asked; danger to people comes before the heap; nothing is asked of a tired
   person that can wait. Nobody is told to reach into what scalds: 140 °F (60 °C) burns in seconds (from memory).
5. Turning dry material raises dust and mold, so those texts say to stay upwind. A closed vessel, a shed or a pit can hold gas
   that kills without warning (carbon monoxide, carbon dioxide, hydrogen sulfide, ammonia, little oxygen), so whoever is sent
   there is told. Local codes and the fire service come before anything said here.

Variants (`Facts.variant`): `stalled`: `no-hold` (never at its hold temperature), else never warm;
`turning-due`: `cooled`, else the rule wants more turnings; `round-due`: `early` (it falls due in quiet hours), `broken`
(the chain of rounds), else the round is missed.

Source: design of this project, section 4 (cautions); water trickled onto a dry hot heap feeds the fire inside (from memory);
the rest is common practice, no published source.
"""

from zoneinfo import ZoneInfo

from monitor.model.alarm_kinds import CATALOG, WrongSide
from monitor.model.settings import Settings
from monitor.notices.bed_words import BED_WORDS
from monitor.notices.facts import Phrases
from monitor.notices.fault_words import FAULT_WORDS
from monitor.notices.heap_words import HEAP_WORDS
from monitor.notices.known import Facts
from monitor.notices.line_words import LINE_WORDS
from monitor.notices.notice_words import NOTICE_WORDS
from monitor.notices.probe_words import PROBE_WORDS
from monitor.notices.sentences import Words, plain_head
from monitor.notices.state import Message

WORDS: dict[str, Words] = {**HEAP_WORDS, **BED_WORDS, **PROBE_WORDS, **FAULT_WORDS, **NOTICE_WORDS, **LINE_WORDS}
"""The sentences of every alarm, notice and line of the digest, by its id."""

_SIGNS = {WrongSide.ABOVE: 1, WrongSide.BELOW: -1}


def compose(alarm_id: str, facts: Facts, settings: Settings) -> Message:
    """Return the words for an alarm, a one-time notice or a line of the digest, as they are read now.

    Args:
        alarm_id: Id of design section 4, a notice (`holding`, `ready`, `over`, ...) or a line (`cool`, `oxygen`, ...).
        facts: What is known.
        settings: Names, unit and time zone of the yard.
    """
    return compose_kept(alarm_id, facts, settings).said(facts.now, ZoneInfo(settings.site.time_zone))


def compose_kept(alarm_id: str, facts: Facts, settings: Settings) -> Message:
    """Return the same with its instants as marks (`instants`), for texts that are read later."""
    kind = CATALOG.get(alarm_id)
    say = Phrases(facts, settings, _SIGNS.get(kind.side, 0) if kind is not None else 0)
    words = WORDS.get(alarm_id, Words())
    if words.whole is not None:
        return words.whole(say)
    if words.head is not None:
        head = words.head(say)
    else:
        head = plain_head(say, kind.name if kind is not None else alarm_id.replace("-", " "))
    text = f"{head}. {words.advice(say)}" if words.advice is not None else f"{head}."
    return Message(text, head, known=facts.known)
