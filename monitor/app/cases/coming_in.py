"""Settles what incoming material does to a batch's case: whether the hold begins anew, and which other record matters.

Rules:
1. Raw material restarts the hold. Met material restarts it only if it is more than 10 % of a batch that was under way and had
   not met the rule by then; that is judged in the same way as the case itself.
2. Material from another batch is named with that batch's id: its certificate is the other half of this one.
"""

from collections.abc import Collection, Iterator
from dataclasses import replace

from monitor.app.cases.lineage import Telling
from monitor.certificate import CameFrom, Case, judge_case
from monitor.engine import BatchRecord
from monitor.material import CameIn, HeatStatus
from monitor.model.errors import MisuseError
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared


def with_what_came_in(
    case: Case, record: BatchRecord, telling: Telling, unnamed: Collection[str] = frozenset()
) -> Case:
    """Return a case with the effects of incoming material settled.

    Args:
        case: The case so far.
        record: The batch's record, with the material that came in.
        telling: Names places and times in words.
        unnamed: Batches of unknown probes, which therefore have no record of their own.
    """
    restarts, before = list(case.restarts), dict[int, HeatStatus]()
    for at in record.joins:
        if case.as_of is None or at <= case.as_of:
            before[at] = _status_at(replace(case, restarts=tuple(restarts)), at)
            if before[at] is HeatStatus.RUNNING:
                restarts.append(at)
    came = [one for one in record.came_in if case.as_of is None or one[0].work.time <= case.as_of]
    said = [
        _of_nothing_known(one, telling)
        if one.batch in unnamed and not met
        else _said(one, met, before.get(one.work.time), telling)
        for one, met in came
    ]
    return replace(
        case,
        restarts=tuple(sorted(set(restarts))),
        came_in=tuple(CameFrom(time=one.work.time, batch=one.batch, met=met) for one, met in came if one.batch),
        remarks=tuple(dict.fromkeys((*case.remarks, *said))),
    )


def _status_at(case: Case, at: int) -> HeatStatus:
    """Return the batch's heat status at an instant at which material came in."""
    end = at if case.end is None else min(at, case.end)
    try:
        return judge_case(replace(case, end=end, as_of=at)).heat_status
    except MisuseError:
        return HeatStatus.RAW  # there is no reading up to then


def _said(came: CameIn, met: bool, before: HeatStatus | None, telling: Telling) -> str:
    return f"{_what(came, telling)} on {telling.when(came.work.time)}{''.join(_so(came, met, before))}."


def _of_nothing_known(came: CameIn, telling: Telling) -> str:
    """Return why material from a heap without a record counts as raw, and what would give it a record."""
    place = came.work.place
    named = (
        f"an entry `probe in` at {place} for each probe that lay in it"
        if not declared(came.work.kind).brings
        else ("an entry `probe in` for each probe that lay in it")
    )
    return (
        f"{_what(came, telling)} on {telling.when(came.work.time)}; nobody says which probes were in that heap, so nothing is "
        f"known of its heat and it counts as raw: the hold counts from then on. What would say it is {named}, with its "
        "readings among the files, or the yard's configuration (--config)."
    )


def _what(came: CameIn, telling: Telling) -> str:
    work = came.work
    if declared(work.kind).brings:
        return f"{f'Material of batch {came.batch}' if came.batch else 'Material'} was added"
    part = "Part of the heap" if work.kind is WorkKind.SPLIT else "The heap"
    of = f" (batch {came.batch})" if came.batch else ""
    return f"{part} of {telling.place(work.place)}{of} was put onto this one"


def _so(came: CameIn, met: bool, before: HeatStatus | None) -> Iterator[str]:
    anew = "the hold counts from then on"
    if not came.batch:
        yield f"; {anew}"
    elif not met:
        yield f"; by its own record it had not met this rule, so {anew}"
    elif came.small:
        yield "; it had met this rule, and is at most 10 % of this one: what was proven goes on counting"
    elif before is HeatStatus.MET:
        yield "; both had met this rule, each by its own record: what was proven goes on counting"
    elif before is HeatStatus.RUNNING:
        yield f"; it had met this rule and this one had not, of which it is not known to be at most 10 %: {anew}"
    else:
        yield "; it had met this rule, and this one was not at temperature yet"
