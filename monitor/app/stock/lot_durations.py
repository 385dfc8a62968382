"""A lot held against the rules of duration, with what the record has of its beds; in words and as JSON."""

from collections.abc import Iterator, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.stock.lot_sheets import PASSED, LotSheet
from monitor.app.yard.yard_scales import feedstocks_by_name, scales_of
from monitor.app.yard.yard_view import YardView
from monitor.conditioning import calibrate
from monitor.configuration import Configuration
from monitor.durations import BedFacts, Layer, LotDuration, Moist, lot_duration
from monitor.husbandry import FOOD_KG_M3
from monitor.material import MaterialRecord, Node
from monitor.model.amounts import Dimension, known_amount
from monitor.model.flags import ACCEPTED
from monitor.model.sightings import SQUEEZES
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared
from monitor.proof.rules import duration_rule_ids, load_duration_rule


def durations_of(
    sheet: LotSheet, record: MaterialRecord, view: YardView, configuration: Configuration
) -> list[LotDuration]:
    """Return a lot held against each rule of duration; none for a lot with nothing out of a worm bed.

    Args:
        sheet: The lot.
        record: The graph and the log.
        view: The record, for readings of moisture.
        configuration: The configuration, for the sizes and kinds of beds.
    """
    said = {work.test.casefold(): work.result == PASSED for work in sheet.tests}
    beds = _Beds(record, view, configuration)
    zone = ZoneInfo(configuration.settings.site.time_zone)
    found = (lot_duration(load_duration_rule(one), record, sheet.node, beds, said, zone) for one in duration_rule_ids())
    return [one for one in found if one is not None]


def duration_lines(found: Sequence[LotDuration], configuration: Configuration) -> Iterator[str]:
    """Yield the findings in words.

    Args:
        found: The rules with their findings.
        configuration: The configuration, which has who confirmed a rule's figures.
    """
    for one in found:
        yield f"Held against {one.rule.id} ({figures_known(one, configuration)}): {one.answer.value}."
        for finding in one.findings:
            yield f"  {finding.key}, {finding.answer.value}: {finding.why}."


def figures_known(one: LotDuration, configuration: Configuration) -> str:
    """Return how the figures of a rule are known, in words.

    Args:
        one: The rule with its findings.
        configuration: The configuration, which has who confirmed a rule's figures.
    """
    confirmed = configuration.confirmed.get(one.rule.id)
    if confirmed is not None:
        return f"figures confirmed by {confirmed.by}"
    if one.rule.for_information:
        return "for information only: its figures are from memory, and nobody has confirmed them"
    return "not confirmed"


def duration_json(found: Sequence[LotDuration], configuration: Configuration) -> list[dict[str, Any]]:
    """Return the findings as plain JSON.

    Args:
        found: The rules with their findings.
        configuration: The configuration, which has who confirmed a rule's figures.
    """
    return [
        {
            "rule": one.rule.id,
            "answer": one.answer.value,
            "for_information": one.rule.for_information and one.rule.id not in configuration.confirmed,
            "conditions": [
                {"key": finding.key, "answer": finding.answer.value, "why": finding.why} for finding in one.findings
            ],
        }
        for one in found
    ]


class _Beds:
    """Gathers the facts about beds, each once."""

    def __init__(self, record: MaterialRecord, view: YardView, configuration: Configuration) -> None:
        self._record, self._view, self._configuration = record, view, configuration
        self._scales, self._feedstocks = scales_of(configuration), feedstocks_by_name()
        self._known: dict[Node, BedFacts] = {}

    def __call__(self, bed: Node) -> BedFacts:
        """Return the facts about a bed."""
        if bed not in self._known:
            self._known[bed] = self._facts(bed)
        return self._known[bed]

    def _facts(self, bed: Node) -> BedFacts:
        moves = self._record.graph.into.get(bed, [])
        first = next((self._record.entries[one.entry] for one in moves if one.entry in self._record.entries), None)
        if first is None:
            return BedFacts()
        place = first.to if declared(first.kind).goes_somewhere else first.place
        size = self._configuration.beds.get(place)
        out = self._record.graph.out_of.get(bed, [])
        end = max(one.time for one in (*moves, *out))
        works = [self._record.entries[number] for number in self._record.done_at.get(place, ())]
        surface = None if size is None else size.surface_mm2
        return BedFacts(
            kind=None if size is None else size.kind,
            indoors=None if size is None else size.indoors,
            moist=[*self._measured(place, moves[0].time, end), *_felt(works)],
            layers=[Layer(one.time, self._thickness(one, surface)) for one in works if declared(one.kind).feeds],
        )

    def _measured(self, place: str, start: int, end: int) -> Iterator[Moist]:
        for name, probe in self._configuration.settings.probes.items():
            if probe.place != place or probe.quantity is not Quantity.MOISTURE:
                continue
            bad = {kept.time for kept in self._view.store.flags(name, start, end) if kept.flag not in ACCEPTED}
            for reading in self._view.store.readings([name], start, end):
                milli = None if reading.time in bad else calibrate(reading.micro, reading.unit, probe, reading.time)
                if milli is not None:
                    yield Moist(reading.time, milli, milli)

    def _thickness(self, work: Work, surface_mm2: int | None) -> float | None:
        """Return the thickness of a feeding spread evenly over the bed, mm."""
        amount = known_amount(work.amount, work.measure, work.unit)
        if amount is None or not surface_mm2:
            return None
        if amount.dimension is Dimension.VOLUME and amount.base is not None:
            return amount.base * 1000 / surface_mm2
        mass = self._scales.weigh(work.what, amount)
        if mass is None:
            return None
        known = self._feedstocks.get(work.what.strip().casefold())
        density = FOOD_KG_M3 if known is None or known.density is None else known.density.typical
        return mass.wet_g / density * 1e6 / surface_mm2


def _felt(works: Sequence[Work]) -> Iterator[Moist]:
    """Yield the moisture by squeezes and by samples of the bed."""
    for work in works:
        if work.squeeze in SQUEEZES:
            yield Moist(work.time, *SQUEEZES[work.squeeze][1])
        if work.kind is WorkKind.SAMPLED and work.moisture and not work.what:
            milli = round(float(work.moisture) * 1000)
            yield Moist(work.time, milli, milli)
