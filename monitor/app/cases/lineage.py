"""Tells a batch's history in sentences for the certificate, and what people said it is made of.

Rules:
1. A certificate covers what the record supports; if that is less than the whole life of the material, a remark says so.
2. Feedstocks come from the parts and notes of `built` and `added`, and from a `note` that begins "feedstocks:". Quantity is the
   amount and measure of the same entries, or the sum of their parts.
3. Times are local, with their zone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.engine import CONFIGURATION, PUT_IN, TAKEN_OUT, TURNING, BatchRecord, ServiceChange
from monitor.model.amounts import Dimension
from monitor.model.mix_parts import parts_of, parts_said
from monitor.model.settings import Settings
from monitor.model.times import HOUR_MS, show_duration
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import declared
from monitor.piles import probes_left

_FEEDSTOCKS, _WATER = "feedstocks:", "water"


@dataclass(frozen=True, slots=True)
class Telling:
    """Names places and times in sentences."""

    settings: Settings
    time_zone: str

    def place(self, place: str) -> str:
        """Return a place's name."""
        return self.settings.place_name(place)

    def when(self, at: int) -> str:
        """Return an instant (UTC ms) in local time: `18 Jul 2026, 12:20 EDT`."""
        moment = datetime.fromtimestamp(at / 1000, ZoneInfo(self.time_zone))
        return f"{moment.day} {moment:%b %Y, %H:%M %Z}"


def made_of(record: BatchRecord, telling: Telling) -> tuple[str, str]:
    """Return (feedstocks, quantity) in people's words; "" if nobody said."""
    feedstocks, quantity = [], []
    seen: set[tuple[WorkKind, int, str, str]] = set()
    for logged, own in record.works:
        work = logged.work
        note, amount = _materials_of(work), _amount_of(work)
        if not own or (work.kind, work.time, note, amount) in seen:
            continue
        seen.add((work.kind, work.time, note, amount))  # an entry handed in twice counts once
        if work.kind is WorkKind.NOTE and note.casefold().startswith(_FEEDSTOCKS):
            feedstocks.append(note[len(_FEEDSTOCKS) :].strip())
            quantity += [amount] if amount else []
        elif work.kind is WorkKind.BUILT and work.time == record.batch.built:
            feedstocks += [note] if note else []
            quantity += [amount] if amount else []
        elif work.kind is WorkKind.BUILT or declared(work.kind).brings:
            feedstocks += [f"added on {telling.when(work.time)}: {note}"] if note else []
            quantity += [f"{amount} added"] if amount else []
    return "; ".join(feedstocks), ", then ".join(quantity)


def _materials_of(work: Work) -> str:
    """Return the materials of a piece of work: its parts, then its note."""
    parts, note = parts_said(work.parts), work.note.strip()
    return f"{parts} ({note})" if parts and note else parts or note


def _amount_of(work: Work) -> str:
    """Return the amount of a piece of work, else the sum of its parts, if all but the water were weighed in one unit."""
    if work.amount:
        return f"{work.amount} {work.measure}".strip()
    parts = parts_of(work.parts)
    weighed = [part.amount for part in parts if part.name.casefold() != _WATER]
    units = {"" if amount is None or amount.dimension is not Dimension.MASS else amount.unit for amount in weighed}
    if len(units) != 1 or "" in units:
        return ""
    total = sum(amount.count for amount in weighed if amount is not None)
    water = next(
        (
            f" and {part.amount.number} {part.amount.unit} of water"
            for part in parts
            if part.amount is not None and part.name.casefold() == _WATER
        ),
        "",
    )
    return f"{float(total):.1f}".removesuffix(".0") + f" {units.pop()}{water}"


def remarks(record: BatchRecord, telling: Telling, settle_ms: int) -> Iterator[str]:
    """Yield the remarks on a batch's record.

    Args:
        record: The batch's record.
        telling: Names places and times in words.
        settle_ms: How long readings do not count after a probe is back.
    """
    yield from _beginning(record, telling)
    for logged, own in record.works:
        yield from _of_work(logged.work, own, record, telling)
    for probe in sorted(record.service):
        yield from _of_probe(probe, record, telling)
    if any(one.settling for one in record.service.values()):
        yield (
            f"Readings taken while a probe was out, and in the {show_duration(settle_ms)} after it was back, are kept "
            "but do not count."
        )


def _beginning(record: BatchRecord, telling: Telling) -> Iterator[str]:
    batch = record.batch
    if batch.parent:
        first = batch.spans[0]
        yield (
            f"This batch was split off from batch {batch.parent} onto {telling.place(first.pile)} on "
            f"{telling.when(first.start)}; until then its record is that of the whole."
        )
        return
    built = any(
        own and logged.work.kind in (WorkKind.BUILT, WorkKind.ADDED) and logged.work.time == batch.built
        for logged, own in record.works
    )
    configured = telling.settings.piles.get(batch.spans[0].pile)
    if not built and not (configured is not None and configured.built == batch.built):
        yield (
            f"Nobody logged when the batch was built; its record begins with its first accepted reading, on "
            f"{telling.when(batch.built)}."
        )


def _of_work(work: Work, own: bool, record: BatchRecord, telling: Telling) -> Iterator[str]:
    when = telling.when(work.time)
    if not own:
        return  # `coming_in` words it
    if declared(work.kind).brings and work.time > record.batch.built:
        return  # `coming_in` or `put_back` words it
    if work.kind is WorkKind.SPLIT:
        yield (
            f"A part of it went to {telling.place(work.to)} on {when}; that part is not covered by this certificate."
        )
    elif work.kind is WorkKind.MOVED and any(span == (work.to, work.time) for span in _starts(record)):
        note = work.note.casefold()
        turning = "which was not a turning" if "not a turning" in note else "which counts as a turning"
        probes = "the probes were left behind" if probes_left(work) else "its probes went with it"
        yield (
            f"It was moved from {telling.place(work.place)} to {telling.place(work.to)} on {when}, {turning}; {probes}."
        )
    elif work.kind is not WorkKind.BUILT and "opened" in work.note.casefold().split():
        yield f"It was opened on {when}, as logged; what the probes read then stands as it was read."


def _starts(record: BatchRecord) -> Sequence[tuple[str, int]]:
    return [(pile, start) for pile, start, _ in record.spans]


def put_back(record: BatchRecord, telling: Telling) -> str:
    """Return page 1's sentences on the batch's own material that was put back onto it; "" if there was none."""
    came = [one.work for one, _ in record.came_in]
    said = []
    for logged, own in record.works:
        work = logged.work
        if not own or not declared(work.kind).brings or work.time <= record.batch.built or work in came:
            continue
        amount = " ".join(filter(None, (work.amount, work.measure)))
        said.append(
            f"By the entry of {telling.when(work.time)}, what was added then{f' ({amount})' if amount else ''} was its own "
            f"material put back ({work.what}): what was proven goes on counting."
        )
    return " ".join(said)


def end_of(record: BatchRecord, telling: Telling) -> Iterator[str]:
    """Yield how a used-up batch ended."""
    batch = record.batch
    if batch.ended is None:
        return
    when = telling.when(batch.ended)
    if any(link.time == batch.ended for link in batch.bedding):
        bin_ = next(link.bin for link in batch.bedding if link.time == batch.ended)
        yield f"On {when} it went into {telling.place(bin_)} as bedding; food added there later is not covered."
    elif batch.merged_into:
        yield f"On {when} it was taken up by batch {batch.merged_into}; what came after is not covered."
    else:
        yield f"The batch ended on {when} (emptied, or a new one was built in its place); what came after is not covered."


def _of_probe(probe: str, record: BatchRecord, telling: Telling) -> Iterator[str]:
    """Yield when a probe went in or out, apart from turnings and moves."""
    before: ServiceChange | None = None
    for one in record.service[probe].changes:
        # Do not mention a probe that goes back in after a turning.
        back = before is not None and before.how == TURNING and one.into
        if one.how in (PUT_IN, TAKEN_OUT, CONFIGURATION) and not back:
            yield f"Probe {probe} {_did(one)} on {telling.when(one.time)}{_by(one)}."
        before = one


def _did(change: ServiceChange) -> str:
    if change.how == CONFIGURATION:
        return (
            "joined the batch by a change of the configuration"
            if change.into
            else ("left the batch by a change of the configuration")
        )
    return "was put in" if change.into else "was taken out"


def _by(change: ServiceChange) -> str:
    logged = change.logged
    if logged is None:
        return ""
    by = f", as logged by {logged.work.by}" if logged.work.by else ", as logged"
    entered = logged.work.entered if logged.work.entered is not None else logged.at
    return by + (" later" if entered - change.time > HOUR_MS else "")
