"""What a certificate's record holds of a small heap, value by value, and how the document is set and signed."""

import json
import sys
from dataclasses import replace
from hashlib import sha256
from io import BytesIO
from types import SimpleNamespace

import certificate_scenes as scenes
import numpy as np
import pytest
from certificate_papers import flat, plain
from pypdf import PdfReader

from monitor.certificate import Attested, CameFrom, CaseWork, ServiceEntry, canonical, draft, issue, issuing
from monitor.certificate.pages import typesetter
from monitor.certificate.record.attached_rows import gather_rows
from monitor.certificate.record.statement import certificate_id
from monitor.certificate.signature.seal import BrokenSeal, check_seal
from monitor.certificate.signature.signing import unsealed
from monitor.model.errors import InvariantError, MisuseError
from monitor.model.settings import Calibration
from monitor.model.times import DAY_MS, HOUR_MS, show_time
from monitor.model.work import Work, WorkKind

START = scenes.START


def record(case):
    """Return what a case's certificate states, as a tree."""
    return json.loads(scenes.pages_of(case)[1]["certificate.json"])


def at(hours):
    return show_time(START + round(hours * HOUR_MS))


def test_the_finding_of_a_hold_is_stated_to_the_millisecond():
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0)), turnings=(START + HOUR_MS,))
    found = record(case)["finding"]
    asked = "needs 72 h unbroken at 55 °C or above"
    met = f"{asked}; met at {at(76.5)}"
    part = {
        "kind": "Run", "needs": asked, "verdict": "met", "met_at": at(76.5), "reason": met,
        "values_milli": {"longest_run_h": 72_000, "needed_h": 72_000, "run_h": 72_000},
    }  # fmt: skip
    assert {key: value for key, value in found.items() if key != "conditions"} == {
        "verdict": "met", "met_at": at(76.5), "alternative": 0, "probe": "", "start": at(0), "end": at(84),
        "counts_from": at(0), "hold": [[at(4.5), at(84)]], "proven": [[at(0), at(84)]], "total_ms": round(79.5 * HOUR_MS),
        "longest_run": [at(4.5), at(84)], "unproven_ms": 0, "turnings": 0, "turnings_logged": 1,
        "values_milli": part["values_milli"], "reasons": [met], "unbroken": None, "unbroken_reasons": [], "scattered": None,
        "scattered_reasons": [], "days": [], "falls": [], "parts": [part],
    }  # fmt: skip
    ((key, status, ok),) = [(one["key"], one["status"], one["ok"]) for one in found["conditions"]]
    assert (key, status, ok) == ("product-test", "not examined", None)


def test_the_rest_of_a_record_is_stated_as_it_is():
    tree = record(plain())
    assert tree["probes"] == [
        {
            "id": "p1-a", "name": "Probe A", "depth_milli_m": 450, "by_hand": False, "calibrations": [],
            "uncertainty_milli_k": 500, "service": [[None, None]], "unread": [], "entries": [], "retired_by": "", "stored": 100,
            "accepted": 100, "first": at(0), "last": at(99),
        },
    ]  # fmt: skip
    assert tree["judged"] == {
        "basis": "coldest", "max_gap_ms": 2 * HOUR_MS, "hand_gap_ms": 26 * HOUR_MS, "guard_milli_k": 0, "smoothing_ms": 0,
        "start": None, "end": None, "as_of": at(99),
    }  # fmt: skip
    assert tree["site"] == {"name": "Tern Hollow allotments", "time_zone": "UTC", "temperature_unit": "degC"}
    assert (tree["format"], tree["version"], tree["issued"]) == (
        "heaptender-certificate",
        2,
        "2026-05-02T15:30:00.000Z",
    )
    assert (tree["heat_status"], tree["assumed"], tree["without_smoothing"], tree["without_probes"]) == (
        "met",
        [],
        None,
        [],
    )
    assert (tree["readings"]["file"], tree["readings"]["rows"]) == ("readings.csv.gz", 100)
    assert tree["key"] == {"algorithm": "ECDSA P-256 SHA-256", "spki_sha256": "ab" * 32}
    assert tree["rule"]["for_information"] is False
    assert record(plain(rule="backyard-130f-3d"))["rule"]["for_information"] is True
    confirmed = plain(rule="backyard-130f-3d", confirmed=Attested(by="Ann", at=START))
    assert record(confirmed)["rule"]["for_information"] is False
    assert (
        record(plain(flat("p1-a", (100, 60.0)), replace(flat("p1-b", (2, 60.0)), service=())))["probes"][1]["first"]
        is None
    )


def test_the_course_of_a_batch_is_stated_with_all_that_people_logged():
    watered = Work(
        time=START + HOUR_MS, place="p1", kind=WorkKind.WATERED, amount="60", measure="L", by="Ann", source="tap"
    )
    case = plain(
        flat(
            "p1-a",
            (100, 60.0),
            calibrations=(Calibration(points=((0, 100),), start=START, by="Ann", note="ice"),),
            entries=(ServiceEntry(time=START, into=True, how="built", by="Ann", entered=None),),
            service=((START, START + 90 * HOUR_MS),),
            unread=(START + HOUR_MS,),
        ),
        work=(CaseWork(work=watered, entered=START + DAY_MS, imported=True),),
        came_in=(CameFrom(time=START, batch="p2-1", met=True),),
        lay_on=(("Bay 1", START, START + DAY_MS), ("Bay 2", START + DAY_MS, None)),
        declared={"product-test": Attested(by="Bo", at=START, words="tested")},
        measures={"length": 3_000},
        remarks=("It was moved.",),
        restarts=(START,),
    )
    tree = record(case)
    (probe,) = tree["probes"]
    assert probe["calibrations"] == [{"points_milli_c": [[0, 100]], "from": at(0), "by": "Ann", "note": "ice"}]
    assert probe["entries"] == [{"time": at(0), "into": True, "how": "built", "by": "Ann", "entered": None}]
    assert (probe["service"], probe["unread"], probe["accepted"]) == ([[at(0), at(90)]], [at(1)], 90)
    (logged,) = tree["work"]
    assert (logged["entered"], logged["imported"], logged["corrected"]) == (at(24), True, None)
    told = {key: logged[key] for key in ("time", "kind", "place", "amount", "measure", "by", "from", "work_entered")}
    assert told == {
        "time": at(1), "kind": "watered", "place": "p1", "amount": "60", "measure": "L", "by": "Ann", "from": "tap",
        "work_entered": None,
    }  # fmt: skip
    assert tree["came_in"] == [{"time": at(0), "batch": "p2-1", "met": True}]
    assert tree["batch"]["lay_on"] == [
        {"pile": "Bay 1", "from": at(0), "to": at(24)}, {"pile": "Bay 2", "from": at(24), "to": None},
    ]  # fmt: skip
    assert tree["declared"] == {"product-test": {"by": "Bo", "at": at(0), "words": "tested"}}
    assert (tree["measures"], tree["remarks"], tree["restarts"]) == ({"length": 3_000}, ["It was moved."], [at(0)])
    (condition,) = tree["finding"]["conditions"]
    assert (condition["by"], condition["status"]) == ("Bo", "declared")


def test_days_falls_and_other_readings_are_stated():
    tree = record(replace(scenes.small(), smoothing_ms=HOUR_MS))
    found = tree["without_smoothing"]
    first = found["days"][0]
    assert (first["kind"], first["hold_ms"], first["unproven_ms"], first["failed_from"]) == ("counted", DAY_MS, 0, None)
    assert len(found["days"]) >= 15
    assert found["values_milli"]["days"] == 15_000
    assert found["unbroken"] == "met"
    assert tree["finding"]["verdict"] == "met"
    cold = flat("p1-z", (100, 40.0), retired_by="Ann")
    (without,) = record(plain(flat("p1-a", (100, 60.0)), cold))["without_probes"]
    assert (without["probe"], without["finding"]["verdict"]) == ("p1-z", "met")
    (alone,) = record(plain(cold))["without_probes"]
    assert alone == {"probe": "p1-z", "finding": None}


def test_a_heap_that_failed_states_from_when_until_when(keys):
    tree = record(scenes.not_met())
    failed = [one for one in tree["finding"]["days"] if one["kind"] == "failed"]
    assert failed
    assert all(one["failed_from"] < one["failed_until"] for one in failed)
    assert all(one["start"] <= one["failed_from"] for one in failed)


# Set and signed


def test_the_signature_bears_the_yards_name_the_time_and_a_number_of_the_document(keys):
    case = plain()
    document = draft(case, scenes.ISSUED, scenes.key(keys).key_id, scenes.CSV)
    pdf = scenes.certificate(keys, case)
    reader = PdfReader(BytesIO(pdf))
    (field,) = [one.get_object() for one in reader.trailer["/Root"]["/AcroForm"]["/Fields"]]
    value = field["/V"].get_object()
    assert (field["/T"], value["/SubFilter"], value["/Name"], value["/M"]) == (
        "Signature", "/ETSI.CAdES.detached", "Tern Hollow allotments", "D:20260502153000Z",
    )  # fmt: skip
    assert value["/Reason"] == "Self-declared record of time above temperature"
    first, second = reader.trailer["/ID"]
    assert first.original_bytes == PdfReader(BytesIO(document)).trailer["/ID"][0].original_bytes
    assert second.original_bytes == sha256(document).digest()[:16]
    seal = check_seal(pdf)
    whole, start, end = unsealed(document, case.site, scenes.ISSUED + 999)
    assert (start, end) == (seal.start, seal.end)
    assert whole[:start] == pdf[:start], "signed to the second"
    assert whole[end:] == pdf[end:]
    assert set(whole[start + 1 : end - 1]) == {ord("0")}
    assert unsealed(document, case.site, scenes.ISSUED + 1_000)[0][end:] != pdf[end:]


@pytest.mark.parametrize(
    ("check", "words"),
    [
        (
            lambda pdf: (_ for _ in ()).throw(BrokenSeal("It broke.")),
            "The certificate just made does not verify: It broke.",
        ),
        (lambda pdf: SimpleNamespace(key_id="other"), "was signed with another key than it names"),
    ],
)
def test_a_certificate_that_would_not_verify_is_never_issued(keys, monkeypatch, check, words):
    monkeypatch.setattr(issuing, "check_seal", check)
    with pytest.raises(InvariantError, match=words):
        issue(plain(), scenes.ISSUED, scenes.key(keys), scenes.CSV)


def test_the_typesetter_takes_nothing_from_the_machine_and_sets_for_the_archive(tmp_path, monkeypatch):
    asked = {}

    def compiled(main, **more):
        asked.update(main=main, **more)
        return b"%PDF-made"

    monkeypatch.setitem(sys.modules, "typst", SimpleNamespace(compile=compiled))
    assert typesetter.main(tmp_path, ["/faces"]) == 0
    assert (tmp_path / "out.pdf").read_bytes() == b"%PDF-made"
    nowhere = str(tmp_path / "none")
    assert asked == {
        "main": str(tmp_path / "main.typ"), "root": str(tmp_path), "font_paths": ["/faces"], "ignore_system_fonts": True,
        "pdf_standards": ["a-3b"], "package_path": nowhere, "package_cache_path": nowhere,
    }  # fmt: skip


def test_a_page_that_cannot_be_set_is_told_on_the_error_line(tmp_path, capsys):
    (tmp_path / "main.typ").write_text('#panic("no heap")')
    assert typesetter.main(tmp_path, []) == 1
    assert "no heap" in capsys.readouterr().err
    assert not (tmp_path / "out.pdf").exists()


def test_readings_of_two_units_are_attached_as_they_were_sent():
    one = replace(flat("p1-a", (2, 60.0)), unit_names=("Cel", "[degF]"), units=np.array([0, 1], dtype=np.int8))
    other = replace(flat("p1-b", (1, 60.0)), unit_names=("[degF]",), quality=np.array([3], dtype=np.int8))
    text = scenes.CSV.write(gather_rows([one, other])).decode().split("\n")
    assert text[1:4] == [
        f"{at(0)},p1-a,temperature,60,Cel,1", f"{at(0)},p1-b,temperature,60,[degF],3", f"{at(1)},p1-a,temperature,60,[degF],1",
    ]  # fmt: skip


def test_a_record_is_known_by_sixteen_digits_of_all_else_that_it_states():
    tree = record(plain())
    assert len(tree["id"]) == 16
    assert certificate_id(tree) == certificate_id(tree | {"id": "x"}) == tree["id"]
    assert certificate_id(tree | {"left_out": "x"}) != tree["id"]


@pytest.mark.parametrize("value", [2**60, float("nan"), "\ud800"])
def test_what_canonical_json_cannot_hold_is_a_sentence(value):
    with pytest.raises(MisuseError, match="A value cannot be written as canonical JSON"):
        canonical({"a": value})


def test_a_probe_without_readings_adds_no_row():
    silent = replace(flat("p1-b", (0, 60.0)), unit_names=())
    rows = gather_rows([flat("p1-a", (2, 60.0)), silent])
    assert (rows.times.size, rows.probe_names, rows.unit_names) == (2, ("p1-a", "p1-b"), ("Cel",))
