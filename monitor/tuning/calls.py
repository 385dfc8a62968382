"""The *calls* of a run, taken from its effects: the messages that people got about a place's alarms, and the time in alarm.

Rules:
1. A call is one alarm that rang and that a message reported. Repeats, passing on and a second contact belong to the same
   call. An alarm that rings anew after its end, or after a worse one that muted it, is another call.
2. A call is sent when its message goes out, after quiet hours and gathering; that may be long after it rang.
3. An alarm without any message (it ended first, or was muted) is no call. Ends, phases, digests are no calls.
4. An alarm counts as on from when it rang until it is over, muted by design or out of service.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.model.alarm_kinds import alarm_key
from monitor.model.effects import Effect, EffectKind
from monitor.model.notice_values import keys_of
from monitor.model.words import AlarmState
from monitor.notices import NoticeReason
from monitor.proof.intervals import Intervals, normal

_ON = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One alarm that messages reported; times are UTC ms.

    Attributes:
        key: `PLACE/ALARM` or `PLACE/ALARM/PROBE`.
        alarm: The alarm's id.
        rang: When it rang.
        since: When its condition began.
        over: When it was over, or None if it never was.
        told: When messages about it went out, rising; the first one counts as the message, the rest repeat it.
        why: The alarm's own sentence as it rang.
    """

    key: str
    alarm: str
    rang: int
    since: int
    over: int | None
    told: tuple[int, ...]
    why: str = ""

    @property
    def first(self) -> int:
        """The instant at which the first message about it went out, UTC ms."""
        return self.told[0]


@dataclass(slots=True)
class _Open:
    """A call while its effects are read."""

    key: str
    effect: Effect
    over: int | None = None
    told: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """The messages of a run about one place: its calls in the order of their first messages, and the time in alarm."""

    calls: tuple[Call, ...]
    on: Intervals


def heard(effects: Iterable[Effect], place: str, end: int) -> Heard:
    """Extract the calls about a place from a run.

    Args:
        effects: All effects of the run, in the order of their ids.
        place: The pile or bin.
        end: End of the record, UTC ms; alarms still on count until then.

    Returns:
        The calls and the time in alarm.
    """
    rung: list[_Open] = []
    newest: dict[str, _Open] = {}
    on_since: dict[str, int] = {}
    spans: list[tuple[int, int]] = []
    for effect in effects:
        kind = effect.draft.kind
        if kind is EffectKind.ALARM and effect.draft.place == place:
            key = alarm_key(place, effect.draft.axis, effect.draft.probe)
            _time_on(effect, key, on_since, spans)
            _step(effect, key, rung, newest)
        elif kind is EffectKind.NOTICE:
            _tell(effect, newest)
    spans += [(since, max(since, end)) for since in on_since.values()]
    calls = sorted((_closed(one) for one in rung if one.told), key=lambda call: (call.first, call.key))
    return Heard(calls=tuple(calls), on=normal(spans))


def _step(effect: Effect, key: str, rung: list[_Open], newest: dict[str, _Open]) -> None:
    draft = effect.draft
    rings = draft.after == AlarmState.UNACKNOWLEDGED and draft.before in (
        AlarmState.NORMAL,
        AlarmState.RETURNED,
        AlarmState.SUPPRESSED,
    )
    if rings:
        newest[key] = _Open(key, effect)
        rung.append(newest[key])
    elif draft.after not in _ON and key in newest and newest[key].over is None:
        newest[key].over = effect.at


def _time_on(effect: Effect, key: str, on_since: dict[str, int], spans: list[tuple[int, int]]) -> None:
    if effect.draft.after in _ON:
        on_since.setdefault(key, effect.at)
    elif key in on_since:
        spans.append((on_since.pop(key), effect.at))


def _tell(effect: Effect, newest: dict[str, _Open]) -> None:
    draft = effect.draft
    if draft.reason == NoticeReason.OVER:
        return
    # A digest names keys only where it goes with notices that waited.
    for key in dict.fromkeys(keys_of(draft.values)):
        call = newest.get(key)
        # A message about several alarms may name one that is over; if a message already reported that call, this is its end.
        if call is not None and (call.over is None or not call.told) and effect.at not in call.told:
            call.told.append(effect.at)


def _closed(one: _Open) -> Call:
    draft = one.effect.draft
    return Call(
        key=one.key,
        alarm=draft.axis,
        rang=one.effect.at,
        since=draft.since,
        over=one.over,
        told=tuple(one.told),
        why=draft.why,
    )
