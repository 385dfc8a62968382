"""The plain form of all that a verdict hangs on: the key of each field of a case, and how its value is written and read back.

One table serves both ways, so what a certificate states and what is read from it cannot drift apart. Reading trusts nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from typing import Any

from monitor.certificate.judged import Attested, CameFrom, CaseInput, CaseWork, ServiceEntry
from monitor.model.settings import Calibration
from monitor.model.times import parse_time, show_time
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.proof.holdset import HoldBasis
from monitor.proof.intervals import FAR_AHEAD_MS, LONG_AGO_MS, Intervals


@dataclass(frozen=True, slots=True)
class Form:
    """A value's way into plain JSON and back; `read` raises an error of Python's own for any other value."""

    write: Callable[[Any], Any]
    read: Callable[[Any], Any]


def _only(kind: type, said: str) -> Form:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise TypeError(f"{value!r:.60} is {said}")
        return value

    return Form(kind, read)


def _maybe(form: Form) -> Form:
    """Return the form of a value that may be unknown, which is null."""
    return Form(
        lambda value: None if value is None else form.write(value),
        lambda value: None if value is None else form.read(value),
    )


def _every(form: Form) -> Form:
    """Return the form of a tuple of values, which is a list."""
    return Form(lambda some: [form.write(one) for one in some], lambda some: tuple(form.read(one) for one in some))


def _by_key(form: Form) -> Form:
    return Form(
        lambda some: {key: form.write(one) for key, one in some.items()},
        lambda some: {key: form.read(one) for key, one in some.items()},
    )


def _word(kind: type[StrEnum]) -> Form:
    return Form(lambda word: word.value, kind)


def table(make: Callable[..., Any], /, **fields: Form | tuple[str, Form]) -> Form:
    """Return the form of a value with fields, which is an object.

    Args:
        make: Makes the value of its fields by name; `dict` gives some fields of a larger one.
        **fields: The form of each field; with a key before it where the key is another than the field's name.
    """
    keyed = {name: form if isinstance(form, tuple) else (name, form) for name, form in fields.items()}
    return Form(
        lambda one: {key: form.write(getattr(one, name)) for name, (key, form) in keyed.items()},
        lambda tree: make(**{name: form.read(tree[key]) for name, (key, form) in keyed.items()}),
    )


def _written_pairs(intervals: Intervals) -> list[list[str | None]]:
    return [
        [None if start <= LONG_AGO_MS else show_time(start), None if end >= FAR_AHEAD_MS else show_time(end)]
        for start, end in intervals
    ]


def _read_pairs(pairs: list[list[str | None]]) -> Intervals:
    found = tuple(
        (LONG_AGO_MS if start is None else parse_time(start), FAR_AHEAD_MS if end is None else parse_time(end))
        for start, end in pairs
    )
    if any(start >= end for start, end in found) or any(one[1] > other[0] for one, other in pairwise(found)):
        raise ValueError("a probe's service is not in order")
    return found


def _read_point(pair: Any) -> tuple[int, int]:
    shown, right = pair
    return WHOLE.read(shown), WHOLE.read(right)


def _written_stay(stay: tuple[str, int, int | None]) -> dict[str, str | None]:
    pile, since, to = stay
    return {"pile": pile, "from": show_time(since), "to": PERHAPS.write(to)}


def _read_stay(tree: Any) -> tuple[str, int, int | None]:
    return TEXT.read(tree["pile"]), parse_time(tree["from"]), PERHAPS.read(tree["to"])


def _further(work: Work) -> dict[str, str]:
    return {name: getattr(work, name) for name in _FURTHER if getattr(work, name)}


def _with_further(work: Work, tree: Any) -> Work:
    return replace(work, **{name: TEXT.read(tree[name]) for name in _FURTHER if name in tree})


TEXT = _only(str, "not a text")
FLAG = _only(bool, "neither true nor false")
WHOLE = _only(int, "not a whole number")
INSTANT = Form(show_time, parse_time)
PERHAPS = _maybe(INSTANT)
"""An instant that may be unknown."""
PAIRS = Form(_written_pairs, _read_pairs)
ATTESTED = table(Attested, by=TEXT, at=INSTANT, words=TEXT)
_POINT = Form(list, _read_point)
_CALIBRATION = table(
    Calibration, points=("points_milli_c", _every(_POINT)), start=("from", PERHAPS), by=TEXT, note=TEXT
)
_ENTRY = table(ServiceEntry, time=INSTANT, into=FLAG, how=TEXT, by=TEXT, entered=PERHAPS)
PROBE = table(
    dict,
    probe=("id", TEXT),
    name=TEXT,
    depth_milli_m=_maybe(WHOLE),
    by_hand=FLAG,
    calibrations=_every(_CALIBRATION),
    uncertainty_milli_k=_maybe(WHOLE),
    service=PAIRS,
    unread=_every(INSTANT),
    entries=_every(_ENTRY),
    retired_by=TEXT,
)
"""A probe without its readings."""
_WORK_FIELDS = ("place", "to", "batch", "probe", "amount", "measure", "unit", "what", "spot", "by", "note")
_WORK = table(
    Work,
    time=INSTANT,
    entered=("work_entered", PERHAPS),
    kind=_word(WorkKind),
    source=("from", TEXT),
    **dict.fromkeys(_WORK_FIELDS, TEXT),
)
_FURTHER = ("parts", "moisture", "fines", "middle", "overs", "depth")
"""Fields of work whose keys are missing where they are empty: the pages print them, so they must be read back."""
_LOGGED = table(dict, entered=INSTANT, imported=FLAG, corrected=PERHAPS)
WORK = Form(
    lambda one: _LOGGED.write(one) | _WORK.write(one.work) | _further(one.work),
    lambda tree: CaseWork(work=_with_further(_WORK.read(tree), tree), **_LOGGED.read(tree)),
)

SITE = table(dict, site=("name", TEXT), time_zone=TEXT, temperature_unit=TEXT)
BATCH = table(
    dict,
    batch=("id", TEXT),
    pile=TEXT,
    pile_name=TEXT,
    lay_on=_every(Form(_written_stay, _read_stay)),
    method=_maybe(_word(Method)),
    built=PERHAPS,
    feedstocks=TEXT,
    quantity=TEXT,
    size=TEXT,
)
RULE = table(dict, rule_text=("text", TEXT), confirmed=_maybe(ATTESTED))
JUDGED = table(
    dict,
    basis=_word(HoldBasis),
    max_gap_ms=WHOLE,
    hand_gap_ms=WHOLE,
    guard_milli_k=WHOLE,
    smoothing_ms=WHOLE,
    start=PERHAPS,
    end=PERHAPS,
)
COURSE = table(
    dict,
    came_after=_every(TEXT),
    turnings=_every(INSTANT),
    restarts=_every(INSTANT),
    came_in=_every(table(CameFrom, time=INSTANT, batch=TEXT, met=FLAG)),
    declared=_by_key(ATTESTED),
    measures=_by_key(WHOLE),
    work=_every(WORK),
    left_out=TEXT,
    remarks=_every(TEXT),
)
_INPUT = table(
    dict,
    kind=TEXT,
    id=TEXT,
    what=TEXT,
    supplier=TEXT,
    came=PERHAPS,
    until=INSTANT,
    certain=FLAG,
    heat_status=_maybe(TEXT),
    risks=_every(TEXT),
)
_LOOKED_FOR = "risks_looked_for"
"""A key that is missing where nothing is said, as on certificates of before."""
INPUTS = _every(
    Form(
        lambda one: _INPUT.write(one) | ({_LOOKED_FOR: one.looked_for} if one.looked_for else {}),
        lambda tree: CaseInput(**_INPUT.read(tree), looked_for=TEXT.read(tree.get(_LOOKED_FOR, ""))),
    )
)
"""What went into a batch; the key is missing where nothing is recorded of that."""
RECORD = table(dict, origin=TEXT, chain_head=TEXT)
