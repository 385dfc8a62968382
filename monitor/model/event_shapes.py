"""Checks that the payload of an event has the shape that `events` promises; a bad shape is a sentence here, never an exception.

Requests of other processes are checked before they are fed, and the engine checks the events of the record: an event of a
wrong shape changes nothing, so that no row of a file can keep the daemon from starting.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from monitor.model.events import FURTHER, LOOKED, Answer, EventKind
from monitor.model.forecast_entry import day_of
from monitor.model.times import in_calendar
from monitor.model.work import Work, WorkKind

DEEPEST = 32
"""Most levels of lists and objects in a payload (our choice); a settings event has a dozen."""

REQUESTED = frozenset({EventKind.READINGS, EventKind.WORK, EventKind.CORRECTION, EventKind.ANSWER, EventKind.IMPORTED})
"""Kinds that another process may ask for; all others are the writer's own."""

_WORK_KINDS = frozenset(WorkKind)
_KINDS_OF_WORK = frozenset[str](kind.value for kind in WorkKind)
_WORK_TEXTS = frozenset(one.name for one in fields(Work) if one.name not in ("time", "kind", "entered"))


def too_deep(value: Any) -> bool:
    """Return whether lists and objects are nested more than `DEEPEST` levels."""
    level = [value]
    for _ in range(DEEPEST):
        level = [
            inner
            for one in level
            if isinstance(one, Mapping | list | tuple)
            for inner in (one.values() if isinstance(one, Mapping) else one)
            if isinstance(inner, Mapping | list | tuple)
        ]
        if not level:
            return False
    return True


def wrong_request(kind: EventKind, payload: Any) -> str:
    """Return why another process may not request this event, "" if it may."""
    if kind not in REQUESTED:
        return f"{kind} cannot be asked for"
    return wrong_shape(kind, payload) or _rows(payload)


def wrong_event(kind: EventKind, payload: Any) -> str:
    """Return the fault of an event in a file, its rows included, "" if it has none."""
    return wrong_shape(kind, payload) or (_rows(payload) if kind in (EventKind.READINGS, EventKind.IMPORTED) else "")


def wrong_shape(kind: EventKind, payload: Any) -> str:
    """Return the fault of an event's payload, "" if it has none; single rows of readings are not checked."""
    if not isinstance(payload, dict) and not isinstance(payload, Mapping):
        return "it is no object"
    if kind is not EventKind.READINGS and kind is not EventKind.IMPORTED:
        if "rows" in payload:
            return f"{kind} has no rows"
        if too_deep(payload):
            return f"it is nested more than {DEEPEST} levels deep"
    if not _is_text(payload.get("by", "")):
        return "`by` is no text"
    look = _LOOKS.get(kind)
    return look(payload) if look is not None else ""


def _work(payload: Any) -> str:
    if not isinstance(payload, Mapping):
        return "the work is no object"
    kind = payload.get("kind")
    if not isinstance(kind, str) or kind not in _KINDS_OF_WORK:
        return f"{kind!r} is no kind of work"
    for name in ("time", "entered"):
        if payload.get(name) is not None and not _is_time(payload[name]):
            return f"`{name}` is no time"
    for name, value in payload.items():
        if not isinstance(value, str) and name in _WORK_TEXTS and value is not None:
            return f"`{name}` is no text"
    return ""


def _correction(payload: Mapping[str, Any]) -> str:
    one, several = payload.get("reading"), payload.get("readings", ())
    if one or several:
        if not _is_list(several):
            return "`readings` is no list"
        for reading in [*([one] if one else []), *several]:
            known = isinstance(reading, Mapping) and _is_time(reading.get("time"))
            if not known or not isinstance(reading.get("probe"), str):
                return "a reading to be withdrawn is not named by time and probe"
        return ""
    if not _is_time(payload.get("of")):
        return "it does not say which entry it corrects"
    if type(payload.get("row", 0)) is not int:
        return "`row` is no number"
    return "" if payload.get("work") is None else _work(payload["work"])


def _answer(payload: Mapping[str, Any]) -> str:
    if not isinstance(payload.get("alarm"), str) or payload.get("answer") not in Answer.__members__.values():
        return "it names no alarm and answer"
    until = payload.get("until")
    return "" if until is None or _is_time(until) else "`until` is no time"


def _imported(payload: Mapping[str, Any]) -> str:
    works = payload.get("work", ())
    if not _is_list(works) or not _is_list(payload.get("rows", ())):
        return "`work` and `rows` are lists"
    return next((wrong for wrong in map(_work, works) if wrong), "") or _further(payload)


def _readings(payload: Mapping[str, Any]) -> str:
    if not _is_list(payload.get("rows", ())):
        return "`rows` is no list"
    if "ahead" not in payload:
        return _further(payload)
    ahead = payload["ahead"]
    if not _is_list(ahead) or not all(
        _is_list(one) and len(one) == 2 and isinstance(one[0], str) and _is_time(one[1]) for one in ahead
    ):
        return "`ahead` is no list of probes and times"
    return _further(payload)


def _further(payload: Mapping[str, Any]) -> str:
    """Return the fault of the values that stand beside others."""
    further = payload.get(FURTHER, ())
    return _faulty_row(further) if _is_list(further) else "`further` is no list"


def _rows(payload: Mapping[str, Any]) -> str:
    """Return the fault of the rows in a request."""
    return _faulty_row(payload.get("rows", ()))


def _faulty_row(rows: Sequence[Any]) -> str:
    """Return the fault of the first row that is none, or ""."""
    for row in rows:
        if not _is_list(row) or len(row) != 4:
            return f"{str(row)[:60]} is no row of time, probe, millionths and unit"
        time, probe, micro, unit = row
        if not (_is_time(time) and isinstance(probe, str) and isinstance(unit, str) and type(micro) is int):
            return f"{str(row)[:60]} is no row of time, probe, millionths and unit"
        if not -(1 << 62) < micro < 1 << 62:
            return f"{str(row)[:60]}: its value is out of all bounds"
    return ""


def _started(payload: Mapping[str, Any]) -> str:
    since = payload.get("down_since")
    return "" if since is None or _is_time(since) else "`down_since` is no time"


def _link(payload: Mapping[str, Any]) -> str:
    whole = all(isinstance(payload.get(name), str) for name in ("what", "name")) and "up" in payload
    if not whole or not _is_text(payload.get("why", "")):
        return "it does not say which link is up or down"
    return _looked(payload[LOOKED]) if LOOKED in payload else ""


def _looked(looked: Any) -> str:
    whole = (
        isinstance(looked, Mapping)
        and all(type(looked.get(name)) is int and looked[name] >= 0 for name in ("days", "seen"))
        and day_of(str(looked.get("first"))) is not None
        and _is_time(looked.get("since"))
    )
    return "" if whole else "it does not say how much of the record was looked at"


def _clock(payload: Mapping[str, Any]) -> str:
    return "" if isinstance(payload.get("state"), str) else "it does not say how the clock is"


def _evening(payload: Mapping[str, Any]) -> str:
    whole = day_of(str(payload.get("day"))) is not None and payload.get("what") in ("heat", "frost")
    if not whole or type(payload.get("milli_c")) is not int:
        return "it does not say which air is expected when"
    places: Any = payload.get("places")
    if not _is_list(places) or not all(isinstance(one, Mapping) for one in places):
        return "`places` is no list of objects"
    for one in places:
        numbers = all(type(one.get(name)) is int for name in ("limit_milli_c", "days"))
        if not numbers or not isinstance(one.get("place"), str) or day_of(str(one.get("last"))) is None:
            return "a place lacks its limit or its days"
    return ""


def _settings(payload: Mapping[str, Any]) -> str:
    return "" if "settings" in payload else "it holds no settings"


_LOOKS = {
    EventKind.READINGS: _readings,
    EventKind.WORK: _work,
    EventKind.CORRECTION: _correction,
    EventKind.ANSWER: _answer,
    EventKind.SETTINGS: _settings,
    EventKind.IMPORTED: _imported,
    EventKind.STARTED: _started,
    EventKind.SEALED: _started,
    EventKind.CLOCK: _clock,
    EventKind.LINK: _link,
    EventKind.EVENING: _evening,
}


def _is_time(value: Any) -> bool:
    if type(value) is not int:
        return False
    try:
        in_calendar(value)
    except ValueError:
        return False
    return True


def _is_text(value: Any) -> bool:
    return value is None or isinstance(value, str)


def _is_list(value: Any) -> bool:
    return isinstance(value, (list, tuple)) or (isinstance(value, Sequence) and not isinstance(value, str | bytes))
