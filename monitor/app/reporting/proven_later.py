"""Finds heaps whose rule was met by readings that came in after they had gone, when no watch was left to decide it."""

from collections.abc import Collection, Iterator, Sequence

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_store import rule_of_batch, store_case
from monitor.app.entries.entry_log import Numbered
from monitor.app.yard.yard_view import YardView
from monitor.certificate import judge_case
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.proof.rules import NO_RULE
from monitor.proof.verdict import Finding
from monitor.reports import HeapTurn, Span, Turn


def proven_later(
    view: YardView,
    configuration: Configuration,
    entries: Sequence[Numbered],
    decided: Collection[str],
    span: Span,
    now: int,
) -> Iterator[HeapTurn]:
    """Yield when heaps met their rule that had gone before anything decided so, each by its certificate's verdict.

    Args:
        view: The record.
        configuration: The configuration, for the site's own rules.
        entries: The log, which holds the readings by hand.
        decided: The heaps of which it was decided that they met their rule, or that it became void.
        span: Only heaps that lay in these days are looked at.
        now: The present, UTC ms.
    """
    gone = {
        name: batch
        for name, batch in view.engine.state.batches.batches.items()
        if batch.ended is not None and name not in decided and batch.ended >= span.start and batch.built < span.end
    }
    if not gone:
        return
    came = [event.at for event in view.store.events_of(EventKind.IMPORTED) if event.payload.get("rows")]
    came += [one.at for one in entries if one.readings]
    latest = max(came, default=0)
    for name, batch in gone.items():
        if batch.ended is None:
            continue
        if latest <= batch.ended and not view.store.arrived_after(batch.ended, batch.built, batch.ended):
            continue  # whoever watched it had all of its readings
        met = _met(view, configuration, name, now)
        if met is not None and met.met_at is not None:
            yield HeapTurn(name, batch.spans[-1].pile, batch.rule, Turn.MET, met.met_at)


def _met(view: YardView, configuration: Configuration, batch: str, now: int) -> Finding | None:
    rule, kept = rule_of_batch(view, batch)
    if rule == NO_RULE:
        return None
    try:
        judged = judge_case(store_case(view, batch, known_rule(rule, configuration, kept), Asked(now=now)))
    except MisuseError:
        return None  # it has no readings, or no rule is known by that name
    return judged.finding if judged.met and not judged.only_as_asked else None
