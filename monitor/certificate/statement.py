"""All that a certificate states, as a tree of plain values, and its canonical bytes (RFC 8785).

Numbers are integers (milliseconds, thousandths); instants are RFC 3339 in UTC with milliseconds; what is not known is
null. `docs/format-certificate.md` describes every key. `restoring` reads it back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from monitor.certificate.case import Attested, Case, CaseProbe, CaseWork
from monitor.certificate.extra import needing
from monitor.certificate.judging import Judgement, member
from monitor.model.errors import MisuseError
from monitor.model.times import show_time
from monitor.proof.intervals import FAR_AHEAD_MS, LONG_AGO_MS, Intervals
from monitor.proof.judging import Day
from monitor.proof.verdict import Finding

FORMAT = "heaptender-certificate"
VERSION = 2
JSON_FILE = "certificate.json"
READINGS_FILE = "readings.csv.gz"

Tree = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Imprint:
    """A certificate's statement about its own making.

    Attributes:
        issued_at: When, UTC ms.
        key_id: SHA-256 of the signing key's SubjectPublicKeyInfo, hexadecimal.
        readings_sha256: SHA-256 of the attached readings, packed as they are, hexadecimal.
        typst: Version of the typesetter.
        layout: Digest of the program text that makes the pages.
    """

    issued_at: int
    key_id: str
    readings_sha256: str
    typst: str
    layout: str


def make_statement(case: Case, judgement: Judgement, imprint: Imprint) -> Tree:
    """Return all that the certificate of a judged case states.

    Args:
        case: The case.
        judgement: What came of it.
        imprint: By what and when the certificate is made.

    Returns:
        Objects, lists, texts and whole numbers, as canonical JSON takes them.
    """
    rows = sum(int(one.times.size) for one in case.probes)
    tree: Tree = {
        "format": FORMAT,
        "version": VERSION,
        "issued": show_time(imprint.issued_at),
        "key": {"algorithm": "ECDSA P-256 SHA-256", "spki_sha256": imprint.key_id},
        "site": {"name": case.site, "time_zone": case.time_zone, "temperature_unit": case.temperature_unit},
        "batch": _batch(case),
        "rule": _rule(case),
        "judged": {
            "basis": case.basis.value,
            "max_gap_ms": case.max_gap_ms,
            "hand_gap_ms": case.hand_gap_ms,
            "guard_milli_k": case.guard_milli_k,
            "smoothing_ms": case.smoothing_ms,
            "start": _time(case.start),
            "end": _time(case.end),
            "as_of": show_time(judgement.as_of),
        },
        "heat_status": judgement.heat_status.value,
        "came_after": list(case.came_after),
        "assumed": _pairs(judgement.assumed),
        "turnings": [show_time(at) for at in case.turnings],
        "restarts": [show_time(at) for at in case.restarts],
        "came_in": [{"time": show_time(one.time), "batch": one.batch, "met": one.met} for one in case.came_in],
        "declared": {key: _attested(one) for key, one in case.declared.items()},
        "measures": dict(case.measures),
        "probes": [_probe(one, judgement, place) for place, one in enumerate(case.probes)],
        "work": [_work(one) for one in case.work],
        "left_out": case.left_out,
        "remarks": list(case.remarks),
        "readings": {"file": READINGS_FILE, "sha256": imprint.readings_sha256, "rows": rows},
        "finding": _finding(judgement.finding),
        "without_smoothing": None if judgement.plain is None else _finding(judgement.plain),
        "without_probes": [
            {"probe": probe, "finding": None if found is None else _finding(found)}
            for probe, found in judgement.without
        ],
        "record": {"origin": case.origin, "chain_head": case.chain_head},
        "software": {"program": case.software, "typst": imprint.typst, "layout": imprint.layout},
    }
    tree["id"] = certificate_id(tree)
    return tree


def certificate_id(tree: Mapping[str, Any]) -> str:
    """Return the short name of a certificate: what all else that it states hashes to, 16 hexadecimal digits."""
    rest = {key: value for key, value in tree.items() if key != "id"}
    return sha256(canonical(rest)).hexdigest()[:16]


def canonical(tree: Mapping[str, Any]) -> bytes:
    """Return the canonical bytes of plain values (RFC 8785).

    Raises:
        MisuseError: A number or a text cannot stand in canonical JSON.
        UnavailableError: The library is missing.
    """
    with needing():
        import rfc8785  # noqa: PLC0415
    try:
        return rfc8785.dumps(dict(tree))
    except (rfc8785.CanonicalizationError, UnicodeError) as fault:
        raise MisuseError(f"A value cannot be written as canonical JSON ({fault}).") from fault


def _batch(case: Case) -> Tree:
    return {
        "id": case.batch,
        "pile": case.pile,
        "pile_name": case.pile_name,
        "lay_on": [{"pile": pile, "from": show_time(since), "to": _time(to)} for pile, since, to in case.lay_on],
        "method": None if case.method is None else case.method.value,
        "built": _time(case.built),
        "feedstocks": case.feedstocks,
        "quantity": case.quantity,
        "size": case.size,
    }


def _rule(case: Case) -> Tree:
    rule = case.rule
    return {
        "id": rule.id,
        "title": rule.title,
        "jurisdiction": rule.jurisdiction,
        "section": rule.section,
        "source": rule.source,
        "status": rule.status.value,
        "wording": rule.wording,
        "for_information": rule.for_information and case.confirmed is None,
        "confirmed": None if case.confirmed is None else _attested(case.confirmed),
        "text": case.rule_text,
    }


def _attested(one: Attested) -> Tree:
    return {"by": one.by, "at": show_time(one.at), "words": one.words}


def _probe(one: CaseProbe, judgement: Judgement, place: int) -> Tree:
    series = judgement.series[place]
    counted = series.times[member(series.times, series.service)]
    return {
        "id": one.probe,
        "name": one.name,
        "depth_milli_m": one.depth_milli_m,
        "by_hand": one.by_hand,
        "uncertainty_milli_k": one.uncertainty_milli_k,
        "retired_by": one.retired_by,
        "calibrations": [
            {
                "points_milli_c": [list(point) for point in calibration.points],
                "from": _time(calibration.start),
                "by": calibration.by,
                "note": calibration.note,
            }
            for calibration in one.calibrations
        ],
        "service": _pairs(one.service),
        "unread": [show_time(at) for at in one.unread],
        "entries": [
            {
                "time": show_time(entry.time),
                "into": entry.into,
                "how": entry.how,
                "by": entry.by,
                "entered": _time(entry.entered),
            }
            for entry in one.entries
        ],
        "stored": int(one.times.size),
        "accepted": int(counted.size),
        "first": show_time(int(counted[0])) if counted.size else None,
        "last": show_time(int(counted[-1])) if counted.size else None,
    }


def _work(one: CaseWork) -> Tree:
    work = one.work
    return {
        "time": show_time(work.time),
        "entered": show_time(one.entered),
        "work_entered": _time(work.entered),
        "imported": one.imported,
        "corrected": _time(one.corrected),
        "kind": work.kind.value,
        "place": work.place,
        "to": work.to,
        "batch": work.batch,
        "probe": work.probe,
        "amount": work.amount,
        "measure": work.measure,
        "unit": work.unit,
        "what": work.what,
        "from": work.source,
        "spot": work.spot,
        "by": work.by,
        "note": work.note,
    }


def _finding(found: Finding) -> Tree:
    return {
        "verdict": found.outcome.value,
        "met_at": _time(found.met_at),
        "alternative": found.alternative,
        "probe": found.probe,
        "start": show_time(found.start),
        "end": show_time(found.end),
        "counts_from": show_time(found.counts_from),
        "hold": _pairs(found.hold),
        "proven": _pairs(found.proven),
        "total_ms": found.total_ms,
        "longest_run": None if found.longest_run is None else _pairs((found.longest_run,))[0],
        "unproven_ms": found.unproven_ms,
        "turnings": found.turnings,
        "turnings_logged": found.turnings_logged,
        "values_milli": _thousandths(found.values),
        "reasons": list(found.reasons),
        "unbroken": None if found.unbroken is None else found.unbroken.value,
        "unbroken_reasons": list(found.unbroken_reasons),
        "scattered": None if found.scattered is None else found.scattered.value,
        "scattered_reasons": list(found.scattered_reasons),
        "days": [_day(one) for one in found.days],
        "falls": [{"logged": show_time(logged), "begun": show_time(begun)} for logged, begun in found.falls],
        "parts": [
            {
                "kind": part.kind,
                "needs": part.needs,
                "verdict": part.outcome.value,
                "met_at": _time(part.met_at),
                "reason": part.reason,
                "values_milli": _thousandths(part.values),
            }
            for part in found.parts
        ],
        "conditions": conditions(found),
    }


def conditions(found: Finding) -> list[Tree]:
    """Return the outcome of the rule's other conditions, as a certificate and `certify --json` state it."""
    return [
        {
            "key": one.key,
            "text": one.text,
            "status": one.status.value,
            "ok": one.ok,
            "by": one.by,
            "words": one.words,
        }
        for one in found.conditions
    ]


def _day(one: Day) -> Tree:
    return {
        "start": show_time(one.start),
        "end": show_time(one.end),
        "kind": one.kind.value,
        "failed_from": _time(one.failed_from),
        "failed_until": _time(one.failed_until),
        "hold_ms": one.hold_ms,
        "unproven_ms": one.unproven_ms,
        "why": one.why,
    }


def _thousandths(values: Mapping[str, int | float]) -> dict[str, int]:
    return {key: round(value * 1000) for key, value in values.items()}


def _time(at: int | None) -> str | None:
    return None if at is None else show_time(at)


def _pairs(intervals: Intervals) -> list[list[str | None]]:
    """Return intervals as pairs of times; an end that lies beyond every time is null."""
    return [
        [None if start <= LONG_AGO_MS else show_time(start), None if end >= FAR_AHEAD_MS else show_time(end)]
        for start, end in intervals
    ]
