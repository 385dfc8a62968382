"""Makes the row of a need on the yard's sheet: who needs a person, what to do and why, in as few words as there are.

A row has a rank, which says how soon: a *fire* stands first until it is over, *now* cannot wait until tomorrow, the rest is for
*today*. Who takes a thing changes neither its rank nor its place.
"""

from collections.abc import Collection
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.engine import Engine
from monitor.model.alarm_kinds import CATALOG, Alarm
from monitor.model.events import Answer
from monitor.model.words import AlarmState
from monitor.notices import Facts, Outside, clean, glimpse, say_time
from monitor.page.places.need_number import NeedNumber, number_of
from monitor.page.places.needs import PROBES_OUT, Need, name_of

FIRE, NOW, TODAY = Alarm.FIRE.value, "now", "today"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A need in a row.

    Attributes:
        need: The need.
        rank: `fire`, `now` or `today`.
        name: Its place's name.
        deed: What to do, a verb with its object: `turn it`; where nobody knows how the place is, that comes first.
        heading: The same as the row is headed: of a heap that may burn, with the question that comes before it.
        act: The same in eight words at most, or "".
        mind: The danger of doing it, or "": it is never folded away.
        steps: What to do in a fire, step by step.
        blind: Whether nobody knows how the place is now because of it.
        by: Who is on it, or "".
        why: What is wrong, and since when.
        number: The one number, or None.
        turning: Whether a turning can be written down here: not while something forbids opening the heap.
        probes_back: Whether probes can be written down here as back in.
    """

    need: Need
    rank: str
    name: str
    deed: str
    heading: str
    act: str
    mind: str
    steps: tuple[str, ...]
    blind: bool
    by: str
    why: str
    number: NeedNumber | None
    turning: bool
    probes_back: bool

    @property
    def taken(self) -> bool:
        """Whether somebody is on it."""
        return self.need.state is AlarmState.ACKNOWLEDGED and Answer.NOT_ME in self.need.answers

    @property
    def answers(self) -> frozenset[Answer]:
        """The answers that are possible in the row: a fire is never put off there."""
        return frozenset(self.need.answers) - ({Answer.PUT_OFF} if self.rank == FIRE else set())


def rank_of(need: Need) -> str:
    """Return the rank of a need, by what it is and never by who has seen it."""
    if need.alarm == Alarm.FIRE:
        return FIRE
    return NOW if need.urgent else TODAY


def rows(engine: Engine, needs: Collection[Need], now: int) -> list[Row]:
    """Return needs as rows, in their order.

    Args:
        engine: The engine of the look.
        needs: The needs.
        now: The daemon's time, UTC ms.
    """
    shut = {one.place for one in needs if one.shut}
    unknown = {one.place for one in engine.watched(now) if not one.known}
    return [_row(engine, one, now, shut=one.place in shut, unknown=one.place in unknown) for one in needs]


def _row(engine: Engine, need: Need, now: int, *, shut: bool, unknown: bool) -> Row:
    settings = engine.state.settings
    facts = engine.facts(need.key, now)
    if facts is None:
        out = tuple(sorted(probe for probe, one in engine.state.outings.items() if one.out is not None))
        here = tuple(probe for probe in out if engine.place_of(probe) == need.place)
        facts = Facts(place=need.place, since=need.since, now=now, outside=Outside(out=here, shut=shut))
    said, kind = glimpse(need.alarm, facts, settings), CATALOG.get(need.alarm)
    # Whoever goes to a heap that may burn looks for smoke, and measures nothing first.
    blind = unknown and kind is not None and kind.unheard and not kind.shuts
    deed = "measure it by hand" if blind else said.deed
    act = said.act.removesuffix(".")
    return Row(
        need=need,
        rank=rank_of(need),
        name=name_of(engine, need.place),
        deed=deed,
        heading=f"no smoke? {deed[:1].upper()}{deed[1:]}" if need.alarm == Alarm.TOO_HOT else deed,
        act=f"Then {act[:1].lower()}{act[1:]}" if blind and act else act,
        mind=said.mind,
        steps=said.steps,
        blind=blind,
        by=clean(who) if (who := _who(engine, need)) else "",
        why=_why(engine, need, facts, now),
        number=number_of(settings, need, facts, now),
        turning=need.offers_turning and not shut,
        probes_back=need.alarm == PROBES_OUT and not shut,
    )


def _who(engine: Engine, need: Need) -> str:
    """Return who answered a need, as they named themselves; "" for nobody or without a name."""
    telling = engine.state.desk.tellings.get(need.key)
    return "" if telling is None else telling.answered_by


def _why(engine: Engine, need: Need, facts: Facts, now: int) -> str:
    """Return the trouble and since when, without the number, which stands beside it."""
    kind = CATALOG.get(need.alarm)
    if kind is None or need.alarm == Alarm.FIRE:
        return need.what
    settings = engine.state.settings
    name = kind.name.removeprefix("a ")
    since = say_time(facts.since, now, ZoneInfo(settings.site.time_zone))
    known = settings.probes.get(facts.probe)
    probe = f" ({clean(known.name or facts.probe, 24)})" if kind.of_probe and known is not None else ""
    if need.alarm == Alarm.SILENT:
        return f"No word from it since {since}{probe}"
    return f"{name[:1].upper()}{name[1:]} since {since}{probe}"
