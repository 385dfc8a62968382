"""Converts effects to rows and back. `values` keeps the order of its keys, because exports show it."""

import json
from typing import Any

from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.times import in_calendar

EFFECT_COLUMNS = "at, ordinal, place, kind, axis, before, after, why, since, reason, probe, vals, text"
"""Column list of `effect`, in the order of `to_row`."""

EffectRow = tuple[int, int, str, str, str, str | None, str | None, str, int, str, str, str, str]
"""One row of the `effect` table."""


def to_row(effect: Effect) -> EffectRow:
    """Return the row of an effect; equal effects have equal rows.

    Raises:
        ValueError: The effect's `values` are not plain JSON.
    """
    draft = effect.draft
    try:
        values = json.dumps(dict(draft.values), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    except TypeError as fault:
        raise ValueError(f"the effect {effect.at}/{effect.ordinal} has values that are not JSON: {fault}") from fault
    return (
        effect.at,
        effect.ordinal,
        draft.place,
        str(draft.kind),
        str(draft.axis),
        None if draft.before is None else str(draft.before),
        None if draft.after is None else str(draft.after),
        draft.why,
        draft.since,
        str(draft.reason),
        draft.probe,
        values,
        draft.text,
    )


def all_text(*values: object) -> None:
    """Refuse values that should be text: after a flipped bit in a row's header, SQLite returns another type.

    Raises:
        ValueError: A value is not text.
    """
    for value in values:
        if not isinstance(value, str):
            raise ValueError(f"{value!r} is no text")


def from_row(row: tuple[Any, ...]) -> Effect:
    """Return the effect of a row selected as `EFFECT_COLUMNS`."""
    at, ordinal, place, kind, axis, before, after, why, since, reason, probe, values, text = row
    in_calendar(at)
    in_calendar(since)
    all_text(place, axis, why, reason, probe, text)
    draft = Draft(
        place=place,
        kind=EffectKind(kind),
        axis=axis,
        before=before,
        after=after,
        why=why,
        since=since,
        reason=reason,
        probe=probe,
        values=json.loads(values),
        text=text,
    )
    return Effect(at=at, ordinal=ordinal, draft=draft)
