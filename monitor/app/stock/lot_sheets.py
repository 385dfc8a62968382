"""Gathers what the record knows of a lot: what went in, what may be said of heat, what holds it back, who has it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from monitor.app.stock.lot_rest import LotRest, rest_of_lot
from monitor.material import (
    HeatStatus,
    MaterialRecord,
    Node,
    NodeKind,
    Tally,
    TracedInput,
    Treated,
    held_back,
    trace_lot,
    treated,
)
from monitor.model.errors import MisuseError
from monitor.model.harvest_names import WORMS
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.proof.rules import NO_RULE

if TYPE_CHECKING:
    from monitor.app.yard.yard_view import YardView
    from monitor.certificate import Judgement
    from monitor.configuration import Configuration

PASSED, FAILED = "passed", "failed"
"""The results of a test of a lot."""


@dataclass(frozen=True, slots=True)
class Given:
    """A part of a lot that one person got."""

    entry: int
    work: Work
    wet_g: int | None


@dataclass(frozen=True)
class LotSheet:
    """A lot.

    Attributes:
        node: Its node in the graph.
        made: The entry that made it.
        number: That entry's number.
        rest: What is left of it.
        held: Why it is held back; empty: nothing does.
        tests: Its tests, newest last.
        given: Who has some of it, in order of time.
        trace: Traces its inputs, when somebody asks for them: that takes the record of each heap on the way.
    """

    node: Node
    made: Work
    number: int
    rest: LotRest
    held: Sequence[str]
    tests: Sequence[Work]
    given: Sequence[Given]
    trace: Callable[[], list[TracedInput]]

    @property
    def mass(self) -> Tally:
        """The mass that went into it."""
        return self.rest.mass

    @property
    def left_g(self) -> int | None:
        """The mass that is left of it, g; None if an amount is unknown."""
        return self.rest.left_g

    @cached_property
    def inputs(self) -> list[TracedInput]:
        """Everything that went into it, or may have."""
        return self.trace()

    @cached_property
    def _treated(self) -> tuple[Treated, list[str]]:
        return treated(self.inputs)

    @property
    def treated(self) -> Treated:
        """The word that a label may use on heat."""
        return self._treated[0]

    @property
    def records(self) -> list[str]:
        """The heaps whose records allow that word."""
        return self._treated[1]

    @cached_property
    def risks(self) -> dict[str, list[str]]:
        """The risks of its inputs, each with the deliveries that brought it."""
        found: dict[str, list[str]] = {}
        for one in self.inputs:
            for risk in one.risks:
                found.setdefault(risk, []).append(one.found.node.id)
        return found


class HeatsOfHeaps:
    """Tells the heat status of heaps at an instant, each by its own rule and record, and remembers it."""

    def __init__(
        self,
        view: "Callable[[], YardView]",
        configuration: "Configuration",
        now: int,
        known: dict[tuple[str, int], HeatStatus] | None = None,
    ) -> None:
        """Tell the heat of the heaps of a record.

        Args:
            view: Opens the record, when the first heap is asked for.
            configuration: The configuration.
            now: The present, UTC ms.
            known: What was told before of the same record, by heap and instant; it grows.
        """
        self._view, self._configuration, self._now = view, configuration, now
        self._known = {} if known is None else known

    def missing(self, node: Node, at: int) -> str:
        """Return how far a heap is by its own rule at an instant (UTC ms), after the rule's name; "" if it misses nothing.

        A heap that is held against no rule misses nothing.
        """
        from monitor.app.cases.from_store import rule_of_batch  # noqa: PLC0415

        if node.kind is not NodeKind.BATCH or self(node, at) is HeatStatus.MET:
            return ""
        view = self._view()
        known = node.id in view.engine.state.batches.batches
        rule = rule_of_batch(view, node.id)[0] if known else NO_RULE
        if rule == NO_RULE:
            return ""
        found = self._judgement(node.id, at)
        if found is None:
            return f"{rule} (no reading of it is in the record)"
        if found.heat_status is HeatStatus.VOID:
            return f"{rule} (raw material came in, and it was not hot since)"
        from monitor.certificate import so_far  # noqa: PLC0415

        return f"{rule} ({so_far(found.finding)})"

    def __call__(self, node: Node, at: int) -> HeatStatus:
        """Return the heat status of a heap at an instant (UTC ms); raw if nothing proves more."""
        key = (node.id, at)
        if key not in self._known:
            self._known[key] = self._judged(node.id, at)
        return self._known[key]

    def _judged(self, batch: str, at: int) -> HeatStatus:
        found = self._judgement(batch, at)
        return HeatStatus.RAW if found is None else found.heat_status

    def _judgement(self, batch: str, at: int) -> "Judgement | None":
        """Return the judgement on a heap by its own rule; None if it has no rule, or nobody read it by then."""
        # Imported here: who has some of a lot is asked in a hurry, and needs nothing of this.
        from monitor.app.cases import Asked, known_rule  # noqa: PLC0415
        from monitor.app.cases.from_store import rule_of_batch, store_case  # noqa: PLC0415
        from monitor.certificate import judge_case  # noqa: PLC0415

        view = self._view()
        if batch not in view.engine.state.batches.batches:
            return None
        rule, kept = rule_of_batch(view, batch)
        if rule == NO_RULE:
            return None
        try:
            known = known_rule(rule, self._configuration, kept)
            case = store_case(view, batch, known, Asked(now=self._now, as_of=min(at, self._now)))
            return judge_case(case)
        except MisuseError:
            return None


def lot_named(record: MaterialRecord, name: str) -> Node:
    """Return the lot of an id.

    Raises:
        MisuseError: There is none; the message names the newest lots.
    """
    exact = Node(NodeKind.LOT, name.strip())
    if exact in record.graph.into:
        return exact
    lots = record.graph.nodes(NodeKind.LOT)
    found = next((one for one in lots if one.id.casefold() == name.strip().casefold()), None)
    if found is None:
        newest = ", ".join(one.id for one in reversed(lots[-3:]))
        right = f"the newest are {newest}" if lots else "there is none yet: `heaptender lots make` begins one"
        raise MisuseError(f'There is no lot "{name}"; {right}.')
    return found


def untested(record: MaterialRecord, lot: Node, wanted: Sequence[str]) -> list[str]:
    """Return the tests that the site asks for and that are not in for a lot.

    Args:
        record: The graph and the log.
        lot: The lot.
        wanted: The tests that the site asks for.
    """
    tests = {work.test.casefold() for work in record.tests.get(lot.id.casefold(), ())}
    return [test for test in wanted if test.casefold() not in tests]


def lot_sheet(
    record: MaterialRecord, lot: Node, heat_of: HeatsOfHeaps, wanted: Sequence[str], *, whole: bool = True
) -> LotSheet:
    """Return the sheet of a lot.

    Args:
        record: The graph and the log.
        lot: The lot.
        heat_of: Tells the heat status of heaps.
        wanted: The tests that the site asks for.
        whole: Whether all is to be known of its inputs; else only as much as the words on heat need.
    """
    graph, into = record.graph, record.graph.into[lot]
    tests = record.tests.get(lot.id.casefold(), [])
    return LotSheet(
        node=lot,
        made=record.entries[into[0].entry],
        number=into[0].entry,
        rest=rest_of_lot(record, lot),
        held=held_back(wanted, {work.test.casefold(): work.result == PASSED for work in tests}),
        tests=tests,
        given=[
            Given(move.entry, record.entries[move.entry], move.wet_g)
            for move in graph.out_of.get(lot, ())
            if move.target.kind is NodeKind.GIVEN
        ],
        trace=lambda: trace_lot(graph, lot, heat_of, lambda entry: _is_no_bedding(record.entries[entry]), whole=whole),
    )


def _is_no_bedding(work: Work) -> bool:
    """Return whether an entry brought food or worms, of whose heat the words on bedding say nothing."""
    return declared(work.kind).feeds or work.what.strip().casefold() == WORMS
