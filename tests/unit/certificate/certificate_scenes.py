"""Cases that the tests of certificates share: made-up batches of the Tern Hollow allotments, the same at every run."""

import json
import re
from dataclasses import replace
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from monitor.app.cases.csv_format import ReadingsCsv
from monitor.certificate import (
    Attested,
    Case,
    CaseProbe,
    CaseWork,
    ServiceEntry,
    SigningKey,
    issue,
    judge_case,
    make_statement,
    open_key,
)
from monitor.certificate.checking.container import Attached, open_container
from monitor.certificate.pages import document
from monitor.certificate.pages.typesetting import typeset
from monitor.certificate.record.attached_rows import gather_rows, pack
from monitor.certificate.record.statement import Imprint
from monitor.certificate.signature.seal import check_seal
from monitor.certificate.signature.signing import sign
from monitor.model.settings import Calibration
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.proof.rules import load_rule, rule_text
from monitor.proof.temperature import ALWAYS

START = parse_time("2026-03-05T09:00:00Z")
ISSUED = parse_time("2026-05-02T15:30:00Z")
CSV = ReadingsCsv()
_STREAM = re.compile(rb"<<[^\n]*/Type/EmbeddedFile[^\n]*\n?stream\r?\n(?P<stream>.*?)\nendstream", re.DOTALL)
HOSTILE = "#strong[no] *b* _i_ $x$ `r` \\ <label> @ref // \u202edlrow\u202c שלום 中文 \x07\ufeff </svg>" + "W" * 300


def probe(
    probe_id: str, milli_c: np.ndarray[Any, Any], *, every_ms: int = 20 * MINUTE_MS, start: int = START, **more: Any
) -> CaseProbe:
    """Return a probe that read the given temperatures, one after the other."""
    count = milli_c.size
    known = {
        "name": f"Probe {probe_id[-1].upper()}",
        "depth_milli_m": 450,
        "uncertainty_milli_k": 500,
        "service": ALWAYS,
        **more,
    }
    return CaseProbe(
        probe=probe_id,
        times=start + np.arange(count, dtype=np.int64) * every_ms,
        micro=milli_c.astype(np.int64) * 1000,
        units=np.zeros(count, dtype=np.int8),
        unit_names=("Cel",),
        quality=np.ones(count, dtype=np.int8),
        **known,
    )


def course(days: int, *, seed: int, peak: int = 64_000, every_ms: int = 20 * MINUTE_MS, hot_days: float = 18) -> Any:
    """Return a heap's temperatures: up in two days, hot, and slowly down."""
    hours = np.arange(int(days * DAY_MS / every_ms)) * (every_ms / HOUR_MS)
    rise = 12_000 + (peak - 12_000) * (1 - np.exp(-hours / 14))
    fall = np.clip((hours - hot_days * 24) / 240, 0, 1) * (peak - 24_000)
    noise = np.random.default_rng(seed).normal(0, 350, hours.size)
    return np.rint(rise - fall + noise).astype(np.int64)


def work(kind: WorkKind, day: float, **more: Any) -> CaseWork:
    """Return an entry of the log, so many days after the start."""
    at = START + round(day * DAY_MS)
    return CaseWork(work=Work(time=at, place="p1", kind=kind, by="Ann Example", **more), entered=at + 5 * MINUTE_MS)


def case(**more: Any) -> Case:
    """Return a turned heap that meets its rule, with changes."""
    turned = [START + round(day * DAY_MS) for day in (3.1, 6.2, 9.3, 12.4, 15.5)]
    known: dict[str, Any] = {
        "site": "Tern Hollow allotments",
        "time_zone": "America/New_York",
        "temperature_unit": "degF",
        "batch": "p1-2026-03-05",
        "pile": "p1",
        "pile_name": "Bay 1",
        "method": Method.TURNED,
        "built": START,
        "feedstocks": "stable litter 2 parts, autumn leaves 1 part, coffee grounds 20 kg",
        "quantity": "3 m3",
        "size": "2 m x 1.5 m, 1.2 m high",
        "rule": load_rule("us-112-54-turned"),
        "rule_text": rule_text("us-112-54-turned"),
        "max_gap_ms": 2 * HOUR_MS,
        "turnings": tuple(turned),
        "restarts": (START,),
        "work": (
            work(WorkKind.BUILT, 0, amount="3", measure="m3", note="stable litter 2, leaves 1"),
            *(work(WorkKind.TURNED, (at - START) / DAY_MS) for at in turned),
        ),
        "probes": tuple(
            probe(
                f"p1-{letter}",
                course(24, seed=place, peak=62_000 + 1_500 * place),
                calibrations=(Calibration(points=((0, 100), (100_000, 99_800)), by="Ann Example", note="ice and boil"),)
                if place == 0
                else (),
                entries=(ServiceEntry(time=START, into=True, how="built", by="Ann Example", entered=START),),
            )
            for place, letter in enumerate("abc")
        ),
        "chain_head": "9f" * 32,
        "origin": "the yard's journal",
        "software": "heaptender 0.1.0",
    }
    return Case(**{**known, **more})


def small() -> Case:
    """Return the case with readings an hour apart, so that its certificate is quickly made and checked."""
    probes = tuple(
        probe(f"p1-{letter}", course(24, seed=place, every_ms=HOUR_MS), every_ms=HOUR_MS)
        for place, letter in enumerate("ab")
    )
    return case(probes=probes)


def ruled(rule_id: str, **more: Any) -> Case:
    """Return the case held against another rule."""
    return case(rule=load_rule(rule_id), rule_text=rule_text(rule_id), **more)


def not_met() -> Case:
    """Return a heap that never got hot for long."""
    probes = tuple(probe(f"p1-{one}", course(24, seed=9 + at, peak=58_000, hot_days=7)) for at, one in enumerate("ab"))
    return case(probes=probes, temperature_unit="degC")


def not_proven() -> Case:
    """Return a heap whose probes were silent for some days of it."""
    hot = case()
    silent = (START + 6 * DAY_MS, START + 12 * DAY_MS)
    return replace(hot, probes=tuple(_without(one, *silent) for one in hot.probes))


def by_hand() -> Case:
    """Return a heap whose temperature was read once a day with a dial thermometer."""
    values = np.array([20_000, 48_000, 58_000, 61_000, 60_000, 59_000, 57_000, 56_000, 50_000, 41_000])
    hand = probe("hand:p1", values, every_ms=DAY_MS, name="dial thermometer", by_hand=True, uncertainty_milli_k=None)
    return ruled(
        "backyard-130f-3d",
        method=Method.PASSIVE,
        probes=(hand,),
        max_gap_ms=26 * HOUR_MS,
        turnings=(),
        work=(),
        chain_head="",
        origin="files: dial.csv",
    )


def long_and_hostile() -> Case:
    """Return eight probes over sixty days, with long texts and texts that mean harm."""
    probes = tuple(
        probe(
            f"p1-{place}{'x' * 70 if place == 7 else ''}",
            course(60, seed=20 + place, every_ms=10 * MINUTE_MS, hot_days=40),
            every_ms=10 * MINUTE_MS,
            name=HOSTILE if place == 6 else f"Probe number {place}",
            retired_by="Ann Example" if place == 5 else "",
            depth_milli_m=None if place == 3 else 300 + 100 * place,
        )
        for place in range(8)
    )
    turned = tuple(START + round(day * DAY_MS) for day in np.arange(3, 45, 3.1))
    many = tuple(work(WorkKind.NOTE, day / 3, note=f"Entry {day}. " + HOSTILE * (day == 4)) for day in range(160))
    return case(
        probes=probes,
        turnings=turned,
        work=many,
        feedstocks=HOSTILE + " litter" * 400,
        remarks=("A part of it went to Bay 2 on 2026-03-12; that part is not covered by this certificate.", HOSTILE),
        declared={"curing": Attested(by=HOSTILE, at=ISSUED, words=HOSTILE)},
        site="Tern Hollow " + HOSTILE,
    )


def _without(one: CaseProbe, start: int, end: int) -> CaseProbe:
    kept = (one.times < start) | (one.times > end)
    return replace(one, times=one.times[kept], micro=one.micro[kept], units=one.units[kept], quality=one.quality[kept])


def place(pdf: bytes) -> tuple[int, int]:
    """Return where the signature stands, its brackets included."""
    seal = check_seal(pdf)
    return seal.start, seal.end


PAGE = """#set document(date: datetime(year: 2026, month: 1, day: 1), title: "x")
x
#let file = (relationship: "data", mime-type: "text/plain", description: "x")
#pdf.attach("certificate.json", read("record", encoding: none), ..file)
#pdf.attach("readings.csv.gz", read("readings", encoding: none), ..file)
"""


def enclosed(folder: Path, record: bytes, readings: bytes) -> bytes:
    """Return an empty page with any record and readings attached, signed by the yard."""
    document = typeset({"main.typ": PAGE.encode(), "record": record, "readings": readings})
    return sign(document, key(folder), "Tern Hollow allotments", ISSUED)


def opened(pdf: bytes) -> Attached:
    """Return the attachments of a certificate."""
    return open_container(pdf, place(pdf))


def attachments(pdf: bytes) -> list[tuple[int, int]]:
    """Return where the streams of the attached files start and end, as they stand in the file."""
    found = [stream.span("stream") for stream in _STREAM.finditer(pdf)]
    assert len(found) == 2
    return found


@cache
def key(folder: Path) -> SigningKey:
    """Return the yard's key."""
    return open_key(folder, "Tern Hollow allotments", START)


def certificate(folder: Path, one: Case) -> bytes:
    """Return the case's certificate."""
    return issue(one, ISSUED, key(folder), CSV)


def pages_of(one: Case) -> tuple[dict[str, Any], dict[str, bytes]]:
    """Return the texts of a case's pages and all files that the typesetter would get, without setting them."""
    packed = pack(CSV.write(gather_rows(one.probes)))
    imprint = Imprint(
        issued_at=ISSUED,
        key_id="ab" * 32,
        readings_sha256=sha256(packed).hexdigest(),
        typst="0.15.2",
        layout="0" * 16,
    )
    judged = judge_case(one)
    handed: dict[str, bytes] = {}
    with patch.object(document, "typeset", lambda files: handed.update(files) or b""):
        document.make_document(one, judged, make_statement(one, judged, imprint), packed)
    return json.loads(handed["sheet.json"]), handed
