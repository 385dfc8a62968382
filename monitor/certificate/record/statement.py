"""All that a certificate states, as a tree of plain values, and its canonical bytes (RFC 8785).

Numbers are integers (milliseconds, thousandths); instants are RFC 3339 in UTC with milliseconds; what is not known is
null. `docs/format-certificate.md` describes every key. `plain_forms` holds what is read back, `restoring` reads it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from monitor.certificate.extra import needing
from monitor.certificate.judged import Case, CaseProbe, Judgement, member
from monitor.certificate.record.plain_forms import (
    BATCH,
    COURSE,
    INPUTS,
    JUDGED,
    PAIRS,
    PERHAPS,
    PROBE,
    RECORD,
    RULE,
    SITE,
)
from monitor.model.errors import MisuseError
from monitor.model.times import show_time
from monitor.proof.judging import Day
from monitor.proof.temperature import Series
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
        "site": SITE.write(case),
        "batch": BATCH.write(case),
        "rule": _rule(case),
        "judged": {**JUDGED.write(case), "as_of": show_time(judgement.as_of)},
        "heat_status": judgement.heat_status.value,
        "assumed": PAIRS.write(judgement.assumed),
        "probes": [_probe(one, series) for one, series in zip(case.probes, judgement.series, strict=True)],
        **COURSE.write(case),
        **({"inputs": INPUTS.write(case.inputs)} if case.inputs else {}),
        "readings": {"file": READINGS_FILE, "sha256": imprint.readings_sha256, "rows": rows},
        "finding": _finding(judgement.finding),
        "without_smoothing": None if judgement.plain is None else _finding(judgement.plain),
        "without_probes": [
            {"probe": probe, "finding": None if found is None else _finding(found)}
            for probe, found in judgement.without
        ],
        "record": RECORD.write(case),
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
        **RULE.write(case),
    }


def _probe(one: CaseProbe, series: Series) -> Tree:
    counted = series.times[member(series.times, series.service)]
    return {
        **PROBE.write(one),
        "stored": int(one.times.size),
        "accepted": int(counted.size),
        "first": show_time(int(counted[0])) if counted.size else None,
        "last": show_time(int(counted[-1])) if counted.size else None,
    }


def _finding(found: Finding) -> Tree:
    return {
        "verdict": found.outcome.value,
        "met_at": PERHAPS.write(found.met_at),
        "alternative": found.alternative,
        "probe": found.probe,
        "start": show_time(found.start),
        "end": show_time(found.end),
        "counts_from": show_time(found.counts_from),
        "hold": PAIRS.write(found.hold),
        "proven": PAIRS.write(found.proven),
        "total_ms": found.total_ms,
        "longest_run": None if found.longest_run is None else PAIRS.write((found.longest_run,))[0],
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
                "met_at": PERHAPS.write(part.met_at),
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
        "failed_from": PERHAPS.write(one.failed_from),
        "failed_until": PERHAPS.write(one.failed_until),
        "hold_ms": one.hold_ms,
        "unproven_ms": one.unproven_ms,
        "why": one.why,
    }


def _thousandths(values: Mapping[str, int | float]) -> dict[str, int]:
    return {key: round(value * 1000) for key, value in values.items()}
