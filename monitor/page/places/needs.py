"""Lists the needs of the yard: open alarms and other matters that wait for a person, the most urgent first, with the remedy.

Rules: the higher priority comes first, a fire before all else, then older before newer. Who takes a thing does not move it: a
fire that somebody looks after is still a fire. Alarms that are over or put off come last, but a put-off danger keeps its rank.
The words are the engine's own, fresh; they are the same as in messages.
"""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.alarms import GOING_ON, AlarmRecord
from monitor.engine import Engine
from monitor.model.alarm_kinds import CATALOG, SHUT, Alarm, WrongSide, alarm_name
from monitor.model.events import Answer
from monitor.model.natural_order import natural
from monitor.model.settings import AMBIENT
from monitor.model.times import MINUTE_MS
from monitor.model.words import AlarmState, Priority
from monitor.notices import clean, said, say_time

PROBES_OUT = "probes-out"
"""The name of the need that is no alarm: probes lie outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A matter that needs, or needed, a person.

    Attributes:
        key: The alarm's key; "" if it is no alarm.
        place: Pile, bin, `ambient` or "".
        alarm: The alarm's id, or another name for the matter.
        priority: How soon somebody must act.
        state: The alarm's state.
        what: What is wrong, one sentence.
        todo: What to do, or "".
        stand: Its standing: who has seen it, until when it is put off.
        since: When it began, UTC ms.
        answers: The answers that are possible now.
    """

    key: str
    place: str
    alarm: str
    priority: Priority
    state: AlarmState
    what: str
    todo: str
    stand: str
    since: int
    answers: tuple[Answer, ...] = ()

    @property
    def open(self) -> bool:
        """Whether it goes on and nobody has answered it."""
        return self.state is AlarmState.UNACKNOWLEDGED

    @property
    def is_over(self) -> bool:
        """Whether it is over and only waits for somebody to see it."""
        return self.state is AlarmState.RETURNED

    @property
    def listed(self) -> bool:
        """Whether it is listed as something to do: seen or not, and a danger even if it was put off."""
        return self.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) or (
            self.state is AlarmState.SHELVED and self.priority is Priority.HIGHEST
        )

    @property
    def urgent(self) -> bool:
        """Whether it cannot wait until tomorrow."""
        return self.priority >= Priority.HIGH

    @property
    def brief(self) -> bool:
        """Whether it may be put off for at most 2 h, because a danger must be looked at again soon."""
        return self.alarm in CATALOG and CATALOG[self.alarm].brief

    @property
    def offers_turning(self) -> bool:
        """Whether it asks for a turning, of a heap that is not too hot for that."""
        kind = CATALOG.get(self.alarm)
        return kind is not None and kind.asks_turning and kind.side is WrongSide.SHORT

    @property
    def shut(self) -> bool:
        """Whether it goes on and forbids opening the heap."""
        return self.alarm in SHUT and self.state in GOING_ON


def needs(engine: Engine, now: int) -> list[Need]:
    """Return everything that needs a person at `now` (UTC ms), the most urgent first."""
    found = [
        _need(engine, key, record, now) for key, record in engine.state.alarms.items() if _counts(record)
    ] + _waiting(engine, now)
    return sorted(found, key=_rank)


def _rank(one: Need) -> tuple[bool, bool, int, int, list[tuple[int, int, str]]]:
    return not one.listed, one.alarm != Alarm.FIRE, -one.priority, one.since, natural(one.key)


def name_of(engine: Engine, place: str) -> str:
    """Return a place's name, made safe for one line."""
    if place == AMBIENT:
        return "The air"
    settings = engine.state.settings
    return clean(settings.place_name(place) if place else settings.site.name, 40)


def _counts(record: AlarmRecord) -> bool:
    if record.state in (AlarmState.NORMAL, AlarmState.OUT_OF_SERVICE):
        return False
    # A suppressed alarm adds nothing: a worse alarm of the same place, or a turning, explains it.
    return record.state is not AlarmState.SUPPRESSED


def _need(engine: Engine, key: str, record: AlarmRecord, now: int) -> Need:
    telling = engine.state.desk.tellings.get(key)
    message = engine.words(key, now)
    if message is not None:
        what, todo = message.short, _beyond(message.text, message.short)
    elif telling is not None:
        what, todo = said(telling.short, now, ZoneInfo(engine.state.settings.site.time_zone)), ""
    else:
        probe = f" {clean(record.probe, 24)}" if CATALOG[record.alarm].of_probe else ""
        what, todo = alarm_name(record.alarm).removeprefix("a ") + probe, ""
    if record.state is AlarmState.RETURNED:
        todo = ""
    return Need(
        key=key,
        place=record.place,
        alarm=record.alarm,
        priority=record.priority,
        state=record.state,
        what=_without_name(what, name_of(engine, record.place)),
        todo=todo,
        stand=_stand(engine, key, record, now),
        since=record.since,
        answers=_answers(record),
    )


def _beyond(text: str, short: str) -> str:
    """Return the rest of a message after its short form: what to do. The text may lack the "since" that the short form has."""
    if text.startswith(short):
        return text.removeprefix(short).lstrip(". ")
    first, _, rest = text.partition(". ")
    return rest if rest and short.startswith(first) else text


def _without_name(what: str, name: str) -> str:
    """Return a sentence without the place's name in front, because the page shows it above."""
    rest = what.removeprefix(f"{name}: ")
    return rest[:1].upper() + rest[1:]


def _stand(engine: Engine, key: str, record: AlarmRecord, now: int) -> str:
    telling = engine.state.desk.tellings.get(key)
    zone = ZoneInfo(engine.state.settings.site.time_zone)
    by = f" by {clean(telling.answered_by)}" if telling is not None and telling.answered_by else ""
    if record.state is AlarmState.SHELVED:
        until = f" until {say_time(record.until, now, zone)}" if record.until is not None else ""
        return f"put off{until}{by}"
    if record.state is AlarmState.ACKNOWLEDGED:
        since = telling.answered_at if telling is not None else None
        when = f" since {say_time(since, now, zone)}" if since is not None else ""
        who = clean(telling.answered_by) if by and telling is not None else "somebody"
        return f"{who} has been on it{when}" if when and now - (since or 0) >= MINUTE_MS else f"{who} is on it"
    if record.state is AlarmState.RETURNED:
        return "over"
    return ""


def _answers(record: AlarmRecord) -> tuple[Answer, ...]:
    return {
        AlarmState.UNACKNOWLEDGED: (Answer.SEEN, Answer.PUT_OFF),
        AlarmState.ACKNOWLEDGED: (Answer.NOT_ME, Answer.PUT_OFF),
        AlarmState.RETURNED: (Answer.SEEN,),
        AlarmState.SHELVED: (Answer.TAKEN_UP, Answer.PUT_OFF),
    }.get(record.state, ())


def _put_back(engine: Engine, place: str, count: int) -> str:
    which, shown = ("it", "it shows") if count == 1 else ("them", "they show")
    if any(one.place == place and one.alarm in SHUT and one.state in GOING_ON for one in engine.state.alarms.values()):
        # Never send anybody to a burning heap for the sake of a probe.
        return f"Leave {which} out while the heap may burn; until then what {shown} counts for nothing."
    if place in engine.state.settings.piles:
        return f"Put {which} back in when the work is done; until then what {shown} counts for nothing."
    return f"Put {which} back in; until then no alarm takes account of what {shown}."


def _waiting(engine: Engine, now: int) -> list[Need]:
    """Return needs that are no alarms: probes that lie outside."""
    state = engine.state
    zone = ZoneInfo(state.settings.site.time_zone)
    outside: dict[str, list[str]] = {}
    for probe, outing in state.outings.items():
        if outing.out is not None and (place := engine.place_of(probe)):
            outside.setdefault(place, []).append(probe)
    found = []
    for place, probes in outside.items():
        since = min(out for probe in probes if (out := state.outings[probe].out) is not None)
        which = "a probe has" if len(probes) == 1 else f"{len(probes)} probes have"
        found.append(
            Need(
                key="",
                place=place,
                alarm=PROBES_OUT,
                priority=Priority.LOW,
                state=AlarmState.ACKNOWLEDGED,
                what=f"{which[:1].upper()}{which[1:]} been outside since {say_time(since, now, zone)}",
                todo=_put_back(engine, place, len(probes)),
                stand="",
                since=since,
            )
        )
    return found
