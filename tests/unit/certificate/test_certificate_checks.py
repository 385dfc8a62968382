"""What `verify` says of each kind of certificate, sentence by sentence, and what it refuses inside one."""

import json
from dataclasses import replace
from hashlib import sha256

import certificate_scenes as scenes
import pytest
from certificate_papers import flat, plain

from monitor.certificate import Attested, CameFrom, verify
from monitor.certificate.checking import verification
from monitor.certificate.record.attached_rows import pack, unpack
from monitor.certificate.record.restoring import restore_case
from monitor.certificate.record.statement import canonical, certificate_id
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.times import HOUR_MS
from monitor.model.work import WorkKind
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import parse_rule

LIMITS = "This cannot tell where the probes lay, nor whether the thermometers were right, nor who logged the work."
PAGES = "The printed pages are, byte for byte, what the attached record gives."
AGREES = "Every number in the record agrees."


def said(pdf, key=None):
    found = verify(pdf, scenes.CSV, key)
    assert found.ok, found.faults
    return found.sentences


def test_a_certificate_that_holds_says_what_was_checked_in_order(short, keys):
    key = scenes.key(keys)
    worked_out = (
        "Worked out anew from the 100 attached readings: met, for batch p1-2026-03-05 on Bay 1, under rule us-503-pfrp-static "
        "(40 CFR 503 Appendix B, B.1)."
    )
    told = [worked_out, AGREES, LIMITS, PAGES]
    assert said(short, key.certificate_pem) == [
        f"Unchanged since it was signed with the key given ({key.key_id}).",
        *told,
    ]
    whose = "whether that is the yard's key is for you to check (ask the yard for its public key, name it with --key)"
    assert said(short) == [f"Unchanged since it was signed by key {key.key_id}; {whose}.", *told]
    found = verify(short, scenes.CSV)
    assert (found.verdict, found.pages_compared, found.key_id) == ("met", True, key.key_id)


def test_what_is_not_met_or_for_information_or_only_as_asked_is_said_so(issued):
    cold = said(issued(plain(flat("p1-a", (60, 40.0)), batch="", pile_name="")))
    assert ": not met, for p1, under rule" in cold[1]
    assert (
        cold[3]
        == "Nothing was found wrong with the certificate; what it states is that the rule is not shown to be met."
    )
    unchecked = plain(rule="backyard-130f-3d")
    information = "For information only: nobody has confirmed this rule's figures against its current text."
    assert information in said(issued(unchecked))
    assert information not in said(issued(replace(unchecked, confirmed=Attested(by="Ann", at=scenes.START))))
    asked = said(issued(plain(flat("p1-a", (100, 62.0)), flat("p1-b", (100, 54.0)), basis=HoldBasis.MEAN)))
    assert asked[3].startswith("It is met only as asked. Judged by the mean of the probes, as was asked for.")


def test_a_batch_that_was_moved_and_logged_is_read_back_whole(issued):
    moved = scenes.work(WorkKind.MOVED, 1, to="p2")
    course = {"lay_on": (("Bay 1", scenes.START, scenes.START + HOUR_MS), ("Bay 2", scenes.START + HOUR_MS, None))}
    came = CameFrom(time=scenes.START, batch="p2-1", met=True)
    assert PAGES in said(issued(plain(work=(moved,), came_in=(came,), measures={"length": 3_000}, **course)))


def test_a_rule_that_does_not_come_with_the_program_is_told(issued):
    text = scenes.small().rule_text
    own = plain(rule="us-112-54-turned", method=None)
    own = replace(own, rule=parse_rule(text, "x.toml", "our-county"), rule_text=text)
    assert any(one.startswith("Rule our-county does not come with this program:") for one in said(issued(own)))


def inside(keys, record, readings):
    """Return the faults of a page with such attachments, signed by the yard."""
    return verify(scenes.enclosed(keys, record, readings), scenes.CSV).faults


@pytest.mark.parametrize(
    ("record", "fault"),
    [
        (b"[]", "is not in its canonical form (RFC 8785): it was changed."),
        (b"5", "is not in its canonical form (RFC 8785): it was changed."),
        (b'{ "a":1}', "is not in its canonical form (RFC 8785): it was changed."),
        (b"{", "is not JSON: it was changed."),
        (b"\xff", "is not JSON: it was changed."),
    ],
)
def test_a_record_that_is_none_is_named(keys, record, fault):
    assert inside(keys, record, b"x") == [f"certificate.json {fault}"]


def changed(keys, pdf, change, *, readings=None):
    """Return the faults of a certificate whose record was changed, and signed again by the yard."""
    attached = scenes.opened(pdf)
    tree = json.loads(attached.record)
    change(tree)
    if readings is not None:
        tree["readings"]["sha256"] = sha256(readings).hexdigest()
    tree["id"] = certificate_id(tree)
    return inside(keys, canonical(tree), readings or attached.readings)


def test_a_record_signed_by_another_key_than_it_names_is_refused(keys, short):
    def change(tree):
        tree["key"]["spki_sha256"] = "00" * 32

    assert changed(keys, short, change) == [
        f"The record names another key ({'00' * 32}) than the one that signed it.",
    ]


def test_a_record_that_was_changed_after_it_was_numbered_is_refused(keys, short):
    attached = scenes.opened(short)
    tree = json.loads(attached.record) | {"left_out": "x"}
    assert inside(keys, canonical(tree), attached.readings) == [
        "certificate.json does not fit its own number: it was changed."
    ]


def test_reasons_worded_otherwise_are_a_fault_only_where_the_same_program_made_them(keys, short):
    def reworded(tree):
        tree["finding"]["reasons"] = ["It was hot."]

    assert changed(keys, short, reworded)[0].startswith(
        "In the attached record, `finding.reasons[0]` says 'It was hot.'"
    )

    def older(tree):
        reworded(tree)
        tree["software"]["typst"] = "0.1"

    attached = scenes.opened(short)
    tree = json.loads(attached.record)
    older(tree)
    tree["id"] = certificate_id(tree)
    found = verify(scenes.enclosed(keys, canonical(tree), attached.readings), scenes.CSV)
    assert (found.ok, found.pages_compared, found.verdict) == (True, False, "met")
    assert found.sentences[-2] == "Some reasons are worded otherwise by this version of the program; all numbers agree."
    assert found.sentences[-1] == (
        "Its pages were set by another version (heaptender 0.1.0, typst 0.1) and were not compared: go by the verdict said "
        "here, not by the printed one."
    )
    tree["finding"]["total_ms"] += 1
    tree["id"] = certificate_id(tree)
    found = verify(scenes.enclosed(keys, canonical(tree), attached.readings), scenes.CSV)
    assert len(found.faults) == 1, "numbers are held against each other all the same"
    assert "`finding.total_ms`" in found.faults[0]


def rows_text(*lines):
    head = "time,probe,quantity,value,unit,quality"
    return pack("".join(f"{one}\n" for one in (head, *lines)).encode())


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        (["2026-03-05T09:00:00.000Z,q,temperature,60,Cel,1"], "are of other probes than the record names (q)."),
        (
            [
                "2026-03-05T10:00:00.000Z,p1-a,temperature,60,Cel,1",
                "2026-03-05T09:00:00.000Z,p1-a,temperature,60,Cel,1",
            ],
            "are not in order of time and probe, or one is there twice.",
        ),
        (
            ["2026-03-05T09:00:00.000Z,p1-a,temperature,60,Cel,1"] * 2,
            "are not in order of time and probe, or one is there twice.",
        ),
        (["nonsense"], "readings.csv line 2: 'nonsense' is not a time"),
    ],
)
def test_readings_that_do_not_belong_to_the_record_are_refused(keys, short, lines, fault):
    (told,) = changed(keys, short, lambda tree: None, readings=rows_text(*lines))
    assert fault in told


def test_two_probes_may_be_read_at_one_instant_in_order_of_their_ids(keys, issued):
    both = issued(plain(flat("p1-a", (80, 60.0)), flat("p1-b", (80, 61.0))))
    lines = unpack(scenes.opened(both).readings).decode().split("\n")[1:3]
    assert said(both)[1].startswith("Worked out anew from the 160 attached readings")
    (told,) = changed(keys, both, lambda tree: None, readings=rows_text(*lines[::-1]))
    assert "not in order" in told


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "x"}, "The attached record is not a heaptender-certificate."),
        ({"version": 1}, "This certificate is of an older format (1; this program makes 2)"),
        ({"version": 3}, "has version 3 of its format, this program knows 2; check it with a newer program."),
        ({"version": "2"}, "has version '2' of its format"),
    ],
)
def test_a_record_of_another_format_says_which_program_reads_it(keys, short, change, words):
    (told,) = changed(keys, short, lambda tree: tree.update(change))
    assert words in told


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("rule", "text"), "title = 1", "The rule in the attached record cannot be read: "),
        (("judged", "max_gap_ms"), True, "True is not a whole number"),
        (("judged", "basis"), "warmest", "'warmest' is not a valid HoldBasis"),
        (("site", "name"), 5, "5 is not a text"),
        (("probes", 0, "by_hand"), 1, "1 is neither true nor false"),
        (
            ("probes", 0, "service"),
            [["2026-03-06T00:00:00.000Z", "2026-03-05T00:00:00.000Z"]],
            "service is not in order",
        ),
        (
            ("probes", 0, "service"),
            [["2026-03-05T00:00:00.000Z", "2026-03-07T00:00:00.000Z"], ["2026-03-06T00:00:00.000Z", None]],
            "service is not in order",
        ),
        (("issued",), "soon", "is not as its format says"),
        (("key",), None, "is not as its format says"),
    ],
)
def test_a_value_of_another_kind_is_named(keys, short, path, value, words):
    def change(tree):
        below = tree
        for key in path[:-1]:
            below = below[key]
        below[path[-1]] = value

    (told,) = changed(keys, short, change)
    assert words in told


def test_times_in_service_that_touch_are_in_order(short):
    tree = json.loads(scenes.opened(short).record)
    middle = "2026-03-06T00:00:00.000Z"
    tree["probes"][0]["service"] = [[None, middle], [middle, None]]
    rows = scenes.CSV.read(unpack(scenes.opened(short).readings), 1_000)
    assert len(restore_case(tree, rows).probes[0].service) == 2
    assert restore_case(json.loads(scenes.opened(short).record), rows).probes[0].service == plain().probes[0].service


def test_a_probe_named_twice_or_of_another_quantity_is_refused(short):
    tree = json.loads(scenes.opened(short).record)
    rows = scenes.CSV.read(unpack(scenes.opened(short).readings), 1_000)
    with pytest.raises(MisuseError, match=r"other probes than the record names \(one twice\)"):
        restore_case(tree | {"probes": tree["probes"] * 2}, rows)
    with pytest.raises(MisuseError, match="a unit that is not one of temperature"):
        restore_case(tree, replace(rows, unit_names=("%",)))


def test_a_probe_of_which_nothing_was_read_is_restored_without_readings(short):
    tree = json.loads(scenes.opened(short).record)
    silent = tree["probes"][0] | {"id": "p1-z"}
    rows = scenes.CSV.read(unpack(scenes.opened(short).readings), 1_000)
    found = restore_case(tree | {"probes": [*tree["probes"], silent]}, rows).probes
    assert [one.times.size for one in found] == [100, 0]


# What was changed


def test_what_was_changed_is_said_by_where_it_lies(short):
    start, end = scenes.place(short)

    def told(pdf):
        found = verify(pdf, scenes.CSV)
        assert not found.ok
        return found.sentences

    def flip(*places):
        data = bytearray(short)
        for at in places:
            data[at] ^= 1
        return bytes(data)

    agree = "The attached record and readings agree with each other; "
    assert told(flip(start + 40)) == [
        "The pages, the record and the readings are as they were; only the signature itself was changed.",
    ]
    at = short.find(b"/BaseFont") + 10
    assert told(flip(at)) == [f"{agree}changed is what lies at byte {at}."]
    assert told(flip(at, at + 1)) == [f"{agree}changed is what lies at bytes {at} to {at + 1}."]
    assert told(short + b"x") == [f"{agree}what was changed lies outside them."]
    assert verify(flip(at), scenes.CSV, name_changes=False).sentences == []
    assert end < len(short)


def test_of_a_large_file_it_is_not_worked_out_what_was_changed(short, monkeypatch):
    data = bytearray(short)
    data[short.find(b"/BaseFont") + 10] ^= 1
    monkeypatch.setattr(verification, "_NAMED", len(short))
    assert verify(bytes(data), scenes.CSV).sentences
    monkeypatch.setattr(verification, "_NAMED", len(short) - 1)
    assert verify(bytes(data), scenes.CSV).sentences == []


def test_whatever_goes_wrong_inside_is_a_sentence_but_a_missing_library(short, monkeypatch):
    class Odd:
        def __init__(self, fault):
            self.fault = fault

        def read(self, text, most):
            raise self.fault

        write = None

    assert verify(short, Odd(ZeroDivisionError())).faults == [
        "What is inside cannot be worked out (ZeroDivisionError)."
    ]
    assert verify(short, Odd(MisuseError("It is bad."))).faults == ["It is bad."]
    assert verify(short, Odd(ValueError("row 7"))).faults == ["The attached readings cannot be read (row 7)."]
    with pytest.raises(UnavailableError):
        verify(short, Odd(UnavailableError("gone")))
