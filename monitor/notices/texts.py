"""The words of every alarm, notice and line of the digest.

Rules:
1. The first sentence carries the place, what is wrong, the number with its limit, since when and where it is heading;
   the next begins with a verb and says what to do. `turning-due` and `fire` bring their warning into the beginning.
2. `short` is that first sentence alone: one line for group messages and digests.
3. Plain words only; the words of the alarm standard stay inside. An id without words of its own still makes a message.

Variants (`extra["variant"]`): `stalled`: `no-hold` (never at its hold temperature), else never warm;
`turning-due`: `cooled`, else the rule wants more turnings; `round-due`: `early` (it falls due in quiet hours), `broken`
(the chain of rounds), else the round is missed.
"""

from zoneinfo import ZoneInfo

from monitor.model.alarm_kinds import CATALOG, Alarm, Side
from monitor.model.settings import Settings
from monitor.notices.advice import ADVICE
from monitor.notices.facts import Facts, Phrases
from monitor.notices.heads import HEADS, plain_head
from monitor.notices.state import Message

_SIGNS = {Side.ABOVE: 1, Side.BELOW: -1}


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
    write = HEADS.get(alarm_id)
    head = write(say) if write else plain_head(say, kind.name if kind is not None else alarm_id.replace("-", " "))
    if alarm_id == Alarm.FIRE:
        # What matters must stand in the first 120 characters; where and since when can follow.
        beyond = "Near or over the limit" if say.back else "Over the limit"
        turned = (
            f"; turned at {say.time(say.turned_at)} and not read since" if say.turned_at is not None else say.heading
        )
        detail = f"{beyond}{say.at_probe} {say.since}{turned}."
        short = f"{head} {say.since}{turned}"
        return Message(f"{head}. {ADVICE[alarm_id](say)} {detail}", short, known=say.known)
    advice = ADVICE.get(alarm_id)
    text = f"{head}. {advice(say)}" if advice is not None else f"{head}."
    return Message(text, head, known=say.known)
