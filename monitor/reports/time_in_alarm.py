"""The time in which alarms were on, by the decisions in the record.

An alarm counts as on from the instant at which its condition began until it is over, muted by design or out of service; so an
alarm that a worse one mutes is not on meanwhile, and the worse one is.
"""

from collections.abc import Collection, Iterable

from monitor.model.effects import Effect, EffectKind
from monitor.model.words import AlarmState

_ON = (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SHELVED)


def time_in_alarm(effects: Iterable[Effect], place: str, alarms: Collection[str], until: int) -> list[tuple[int, int]]:
    """Return when any of some alarms of a place was on: (from, to) in UTC ms, in order of their beginning.

    Args:
        effects: The effects of the record, in order; others are passed over.
        place: The place.
        alarms: The alarms' ids.
        until: The end of the record, UTC ms; an alarm that is still on counts until then.
    """
    since: dict[tuple[str, str], int] = {}
    found: list[tuple[int, int]] = []
    for effect in effects:
        draft = effect.draft
        if draft.kind is not EffectKind.ALARM or draft.place != place or draft.axis not in alarms:
            continue
        key = (draft.axis, draft.probe)
        if draft.after in _ON:
            since.setdefault(key, draft.since)
        elif key in since:
            found.append((since.pop(key), effect.at))
    found += [(start, max(start, until)) for start in since.values()]
    return sorted(found)
