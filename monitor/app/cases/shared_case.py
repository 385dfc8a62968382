"""Builds the part of a case that every source shares: the request, and what the batch's record says."""

from collections.abc import Iterator
from importlib.metadata import version

from monitor.app.cases.asked import Asked
from monitor.app.cases.lineage import Telling, made_of, put_back
from monitor.app.cases.which_rule import KnownRule
from monitor.certificate import Attested, Case, CaseProbe
from monitor.engine import BatchRecord
from monitor.model.settings import Settings
from monitor.model.thresholds import RULE_GAP_MS
from monitor.model.times import show_duration


def shared_case(
    asked: Asked, known: KnownRule, settings: Settings, told: tuple[BatchRecord, Telling], probes: tuple[CaseProbe, ...],
    *, pile: str, gaps_ms: tuple[int, int], origin: str,
) -> Case:  # fmt: skip
    """Return the case of a batch; its source adds what it alone knows (batch, work, remarks).

    Args:
        asked: The request; it takes precedence over the record.
        known: The rule.
        settings: Settings that name the places.
        told: The batch's record, and the names of places and times.
        probes: Its core probes.
        pile: Id of the pile where it lies, or lay last.
        gaps_ms: Longest distance between two readings, and between two rounds by hand, across which a line is drawn.
        origin: The record's origin, in words.

    Raises:
        MisuseError: A condition is declared that the rule does not have.
    """
    record, telling = told
    feedstocks, quantity = made_of(record, telling)
    return Case(
        site=asked.site or settings.site.name,
        time_zone=settings.site.time_zone,
        temperature_unit=settings.site.temperature_unit,
        pile=pile,
        pile_name=settings.place_name(pile),
        lay_on=tuple((settings.place_name(place), start, end) for place, start, end in record.spans),
        method=asked.method,
        built=record.batch.built,
        feedstocks=asked.feedstocks or feedstocks,
        quantity=asked.quantity or quantity,
        size=asked.size,
        rule=known.rule,
        rule_text=known.text,
        confirmed=Attested(by=asked.confirmed_by, at=asked.now) if asked.confirmed_by else known.confirmed,
        declared=asked.attested(known.rule),
        measures=asked.measures,
        basis=asked.basis,
        max_gap_ms=gaps_ms[0],
        hand_gap_ms=gaps_ms[1],
        guard_milli_k=asked.guard_milli_k,
        smoothing_ms=asked.smoothing_ms,
        start=asked.start,
        end=asked.end,
        as_of=asked.as_of,
        turnings=record.turnings,
        restarts=record.restarts,
        probes=probes,
        left_out=put_back(record, telling),
        origin=origin,
        software=f"heaptender {version('heaptender')}",
    )


def assumed(probes: tuple[CaseProbe, ...], gaps_ms: tuple[int, int]) -> Iterator[str]:
    """Yield remarks on long gaps and hand thermometers for the certificate; `gaps_ms` as for `shared_case`."""
    by_hand = [one for one in probes if one.by_hand]
    if gaps_ms[0] > RULE_GAP_MS and len(by_hand) < len(probes):
        yield (
            f"Readings up to {show_duration(gaps_ms[0])} apart are joined by straight lines: between the readings the "
            "temperature is assumed, not measured."
        )
    if by_hand:
        yield (
            "Temperatures were read from a thermometer by a person; only those instants were measured. Between two rounds at "
            f"most {show_duration(gaps_ms[1])} apart the temperature is assumed to run straight, also across a turning."
        )
    if by_hand and len(by_hand) < len(probes):
        yield (
            "Rounds by hand prove only where no core probe was in, or all that were in had fallen silent or never spoke "
            "(`lag`); elsewhere they stand beside the probes."
        )
