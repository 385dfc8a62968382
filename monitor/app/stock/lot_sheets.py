"""Gathers what the record knows of a lot: what went in, what may be said of heat, what holds it back, who has it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

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
        mass: The mass that went into it.
        left_g: The mass that is left of it, g; None if an amount is unknown.
        held: Why it is held back; empty: nothing does.
        tests: Its tests, newest last.
        given: Who has some of it, in order of time.
        trace: Traces its inputs, when somebody asks for them: that takes the record of each heap on the way.
    """

    node: Node
    made: Work
    number: int
    mass: Tally
    left_g: int | None
    held: Sequence[str]
    tests: Sequence[Work]
    given: Sequence[Given]
    trace: Callable[[], list[TracedInput]]

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
                if risk != "none":
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

    def __call__(self, node: Node, at: int) -> HeatStatus:
        """Return the heat status of a heap at an instant (UTC ms); raw if nothing proves more."""
        key = (node.id, at)
        if key not in self._known:
            self._known[key] = self._judged(node.id, at)
        return self._known[key]

    def _judged(self, batch: str, at: int) -> HeatStatus:
        # Imported here: who has some of a lot is asked in a hurry, and needs nothing of this.
        from monitor.app.cases import Asked, known_rule  # noqa: PLC0415
        from monitor.app.cases.from_store import rule_of_batch, store_case  # noqa: PLC0415
        from monitor.certificate import judge_case  # noqa: PLC0415

        view = self._view()
        if batch not in view.engine.state.batches.batches:
            return HeatStatus.RAW
        rule, kept = rule_of_batch(view, batch)
        if rule == NO_RULE:
            return HeatStatus.RAW
        try:
            known = known_rule(rule, self._configuration, kept)
            case = store_case(view, batch, known, Asked(now=self._now, as_of=min(at, self._now)))
            return judge_case(case).heat_status
        except MisuseError:
            return HeatStatus.RAW  # it has no rule, or there is no reading of it by then


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
    mass, out = Tally.wet(into), Tally.wet(graph.out_of.get(lot, ()))
    return LotSheet(
        node=lot,
        made=record.entries[into[0].entry],
        number=into[0].entry,
        mass=mass,
        left_g=None if mass.unknown or out.unknown else mass.known_g - out.known_g,
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
