"""No change of a certificate, wherever it is made, passes; and what was changed is named where it can be."""

import json
import random
import re
from hashlib import sha256

import certificate_scenes as scenes
import pytest

from monitor.certificate import Attested, judge_case, verify
from monitor.certificate.checking.container import open_container
from monitor.certificate.pages.document import make_document
from monitor.certificate.record.attached_rows import pack, unpack
from monitor.certificate.record.statement import canonical, certificate_id
from monitor.certificate.signature.cms_form import take_apart, whole_form
from monitor.certificate.signature.keys import open_key
from monitor.certificate.signature.seal import BrokenSeal, check_seal
from monitor.certificate.signature.signing import P256_ORDER, sign, unsealed


def passes(pdf, public_key=None):
    return verify(bytes(pdf), scenes.CSV, public_key, name_changes=False).ok


def flipped(pdf, at, bit):
    changed = bytearray(pdf)
    changed[at] ^= 1 << bit
    return bytes(changed)


def regions(pdf):
    """Return the parts of the file by name."""
    start, end = scenes.place(pdf)
    last = pdf.rfind(b"startxref", 0, start)
    table = pdf.rfind(b"\nxref", 0, start)
    stated = pdf.rfind(b"/ByteRange")
    record, readings = scenes.attachments(pdf)
    assert min(last, table, stated) > 0
    return {
        "header": (0, 16),
        "objects and text": (16, min(record[0], readings[0])),
        "attached record": record,
        "attached readings": readings,
        "cross references": (table, last),
        "first trailer": (last, last + 30),
        "byte range": (stated, stated + 60),
        "signature": (start, start + 1700),
        "padding": (start + 1700, end),
        "last update": (end, len(pdf)),
    }


def test_it_passes_as_it_is(met, keys):
    found = verify(met, scenes.CSV, scenes.key(keys).certificate_pem)
    assert found.ok, found.faults
    assert found.verdict == "met"
    assert "Unchanged since it was signed with the key given" in found.sentences[0]
    alone = verify(met, scenes.CSV)
    assert alone.ok
    assert "whether that is the yard's key is for you to check" in alone.sentences[0]
    assert alone.key_id == scenes.key(keys).key_id


def test_no_flipped_bit_passes_wherever_it_is(met):
    rng = random.Random(1)
    for name, (start, end) in regions(met).items():
        for _ in range(60):
            at, bit = rng.randrange(start, end), rng.randrange(8)
            assert not passes(flipped(met, at, bit)), f"{name}: bit {bit} of byte {at}"


def test_no_flipped_bit_inside_the_signature_passes(met):
    start, end = scenes.place(met)
    rng = random.Random(2)
    size = 2 * len(_der(met)) + 2
    for at in range(start, start + size):
        assert not passes(flipped(met, at, rng.randrange(8))), f"byte {at}"
    for at in rng.sample(range(start + size, end), 300):
        assert not passes(flipped(met, at, rng.randrange(8))), f"padding, byte {at}"


def test_no_other_digit_inside_the_signature_passes(met):
    start, _ = scenes.place(met)
    rng = random.Random(3)
    for at in range(start + 1, start + 2 * len(_der(met)) + 1):
        changed = bytearray(met)
        changed[at] = rng.choice([digit for digit in b"0123456789ABCDEFabcdef" if digit != met[at]])
        assert not passes(changed), f"byte {at}"


@pytest.mark.parametrize("cut", [1, 2, 100, 600, 5000])
def test_what_is_cut_short_or_longer_does_not_pass(met, cut):
    assert not passes(met[:-cut])
    assert not passes(met[cut:])
    assert not passes(met + b"\n" * cut)
    assert not passes(b"%" * cut + met)
    at = len(met) // 2
    assert not passes(met[:at] + met[at + cut :])
    assert not passes(met[:at] + b" " * cut + met[at:])


def test_an_update_put_behind_it_does_not_pass(met):
    from io import BytesIO

    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(BytesIO(met))
    writer.root["/Lang"] = generic.TextStringObject("de")
    writer.update_root()
    output = BytesIO()
    writer.write(output)
    found = verify(output.getvalue(), scenes.CSV)
    assert not found.ok
    assert "bytes were put behind the signed document" in found.faults[0]


def test_a_second_signature_does_not_pass(met, keys, monkeypatch):
    from monitor.certificate.signature import signing

    monkeypatch.setattr(signing, "FIELD", "Second")
    twice = signing.sign(met, scenes.key(keys), "Tern Hollow", scenes.ISSUED + 1)
    assert check_seal(twice)  # the bytes are whole; its structure gives it away
    found = verify(twice, scenes.CSV)
    assert found.faults == ["The document has 2 signatures; a certificate has one."]


def _der(pdf):
    start, end = scenes.place(pdf)
    whole = bytes.fromhex(pdf[start + 1 : end - 1].decode())
    return whole[: 4 + int.from_bytes(whole[2:4], "big")]


def with_cms(pdf, der):
    """Return the file with another signature in the place of its own."""
    start, end = scenes.place(pdf)
    return pdf[: start + 1] + der.hex().upper().encode().ljust(end - start - 2, b"0") + pdf[end - 1 :]


def test_other_spellings_of_the_same_signature_are_refused(met):
    from asn1crypto import cms
    from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature, encode_dss_signature
    from cryptography.x509 import load_der_x509_certificate

    from monitor.certificate.signature.cms_form import signed_attributes

    der = _der(met)
    assert passes(with_cms(met, der))
    start, end = scenes.place(met)
    assert not passes(met[: start + 1] + met[start + 1 : end - 1].lower() + met[end - 1 :])
    certificate_der, value = take_apart(der)
    r, s = decode_dss_signature(value)
    certificate = load_der_x509_certificate(certificate_der)
    digest = sha256(met[:start] + met[end:]).digest()
    attributes = signed_attributes(certificate, certificate_der, digest)
    other = encode_dss_signature(r, P256_ORDER - s)
    assert whole_form(certificate, certificate_der, attributes, value) == der
    with pytest.raises(BrokenSeal, match="smaller form"):
        check_seal(with_cms(met, whole_form(certificate, certificate_der, attributes, other)))
    unsigned = cms.ContentInfo.load(der)
    unsigned["content"]["signer_infos"][0]["unsigned_attrs"] = [
        cms.CMSAttribute({"type": "content_type", "values": ["data"]})
    ]
    with pytest.raises(BrokenSeal, match="no unsigned attributes"):
        check_seal(with_cms(met, unsigned.dump(force=True)))
    twice = cms.ContentInfo.load(der)
    certificates = twice["content"]["certificates"]
    certificates.append(certificates[0])
    assert not passes(with_cms(met, twice.dump(force=True)))
    indefinite = b"\x30\x80" + der[4:] + b"\x00\x00"
    assert not passes(with_cms(met, indefinite))


def test_another_key_is_told_from_the_one_given(met, keys, tmp_path):
    stranger = open_key(tmp_path / "stranger", "Tern Hollow allotments", scenes.START)
    forged = sign(scenes_draft(stranger), stranger, "Tern Hollow allotments", scenes.ISSUED)
    assert passes(forged)  # by itself it is whole: only the key tells
    found = verify(forged, scenes.CSV, scenes.key(keys).certificate_pem)
    assert not found.ok
    assert "not the key given" in found.faults[0]
    assert not passes(met, stranger.certificate_pem)


def scenes_draft(key):
    from monitor.certificate import draft

    return draft(scenes.small(), scenes.ISSUED, key.key_id, scenes.CSV)


def test_attachments_exchanged_between_two_do_not_pass(met, keys):
    other = scenes.certificate(keys, scenes.not_met())
    mine, theirs = (open_container(pdf, scenes.place(pdf)) for pdf in (met, other))
    for (start, end), (first, last) in zip(scenes.attachments(met), scenes.attachments(other), strict=True):
        put = other[first:last][: end - start].ljust(end - start, b"\0")
        assert not passes(met[:start] + put + met[end:])
    # and signed again with the yard's own key: the record and the readings must belong together
    found = verify(scenes.enclosed(keys, mine.record, theirs.readings), scenes.CSV)
    assert not found.ok
    assert "changed or exchanged" in found.faults[0]
    assert not passes(scenes.enclosed(keys, theirs.record, mine.readings))
    # and even where they do, the pages must be theirs
    found = verify(scenes.enclosed(keys, mine.record, mine.readings), scenes.CSV)
    assert "printed pages are not those" in found.faults[0]


def forge(keys, pdf, change, readings=None):
    """Return a certificate whose record was changed and signed again by the yard itself."""
    attached = open_container(pdf, scenes.place(pdf))
    tree = json.loads(attached.record)
    change(tree)
    tree["id"] = certificate_id(tree)
    return scenes.enclosed(keys, canonical(tree), readings or attached.readings)


@pytest.fixture(scope="module")
def failed(keys):
    """Return the certificate of a heap that does not meet its rule."""
    return scenes.certificate(keys, scenes.not_met())


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("finding", "verdict"), "not met"),
        (("finding", "total_ms"), 1),
        (("finding", "hold"), []),
        (("finding", "unproven_ms"), 5),
        (("finding", "reasons"), ["Trust me"]),
        (("probes", 0, "accepted"), 7),
        (("readings", "rows"), 3),
        (("rule", "title"), "Another rule"),
        (("rule", "for_information"), True),
        (("seal of approval",), "yes"),
    ],
)
def test_a_record_that_its_readings_do_not_bear_out_does_not_pass_even_signed(keys, met, path, value):
    def change(tree):
        below = tree
        for key in path[:-1]:
            below = below[key]
        below[path[-1]] = value

    found = verify(forge(keys, met, change), scenes.CSV)
    assert not found.ok
    shown = "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in path).lstrip(".")
    assert f"`{shown}" in found.faults[0]


def test_a_not_met_batch_cannot_be_made_met_by_its_record(keys, failed):
    def change(tree):
        tree["finding"]["verdict"] = "met"

    found = verify(forge(keys, failed, change), scenes.CSV)
    assert not found.ok
    assert any("says 'met', but its readings give 'not met'" in fault for fault in found.faults)


def test_readings_made_warmer_do_not_pass_unless_the_record_is_theirs(keys, failed):
    text = unpack(open_container(failed, scenes.place(failed)).readings)
    warmer = pack(re.sub(rb"temperature,5", b"temperature,6", text))
    assert not passes(forge(keys, failed, lambda _: None, warmer))

    def change(tree):
        tree["readings"]["sha256"] = sha256(warmer).hexdigest()

    assert not passes(forge(keys, failed, change, warmer))


def test_pages_that_say_something_else_than_the_record_do_not_pass(keys, failed):
    case, other = scenes.not_met(), scenes.case(temperature_unit="degC")
    attached = open_container(failed, scenes.place(failed))
    document = make_document(other, judge_case(other), json.loads(attached.record), attached.readings)
    found = verify(sign(document, scenes.key(keys), case.site, scenes.ISSUED), scenes.CSV)
    assert not found.ok
    assert "printed pages are not those" in found.faults[0]


def test_pages_set_by_another_version_are_not_compared_and_that_is_said(keys, met):
    def change(tree):
        tree["software"]["layout"] = "f" * 16

    found = verify(forge(keys, met, change), scenes.CSV)
    assert found.ok
    assert any("were not compared: go by the verdict said here" in one for one in found.sentences)


def test_a_rule_with_a_borrowed_name_is_told(keys):
    from monitor.proof.rules import parse_rule

    easy = scenes.small().rule_text.replace("days = 15", "days = 1")
    case = scenes.case(
        rule=parse_rule(easy, "x.toml", "us-112-54-turned"), rule_text=easy, probes=scenes.small().probes
    )
    found = verify(scenes.certificate(keys, case), scenes.CSV)
    assert any("its text is not the one that comes with this program" in one for one in found.sentences)


def test_what_was_changed_is_named(met):
    start, _ = scenes.place(met)
    page = met.find(b"/BaseFont") + 10
    found = verify(flipped(met, page, 0), scenes.CSV)
    assert f"byte {page}" in found.sentences[0]
    record, readings = scenes.attachments(met)
    found = verify(flipped(met, record[0] + 300, 0), scenes.CSV)
    assert "certificate.json" in found.sentences[0]
    found = verify(flipped(met, readings[0] + 300, 3), scenes.CSV)
    assert "readings.csv.gz" in found.sentences[0]
    found = verify(flipped(met, start + 40, 0), scenes.CSV)
    assert "only the signature itself was changed" in found.sentences[0]


def test_two_signings_differ_in_the_signature_alone(keys):
    case = scenes.case(
        declared={"nobody asked": Attested(by="Ann Example", at=scenes.ISSUED)}, probes=scenes.small().probes
    )
    one, other = scenes.certificate(keys, case), scenes.certificate(keys, case)
    start, end = scenes.place(one)
    assert one != other
    assert (one[:start], one[end:]) == (other[:start], other[end:])
    document = one[: one.find(b"%%EOF") + 5]
    assert unsealed(document, case.site, scenes.ISSUED)[0][:start] == one[:start] or one.startswith(b"%PDF-1.7")
    assert canonical(json.loads(open_container(one, (start, end)).record))
