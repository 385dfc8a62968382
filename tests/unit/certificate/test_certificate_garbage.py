"""Whatever a file holds, `verify` answers with sentences."""

import json
from hashlib import sha256

import certificate_scenes as scenes
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.certificate import verify
from monitor.certificate.checking.container import open_container
from monitor.certificate.pages.typesetting import typeset
from monitor.certificate.record.attached_rows import pack
from monitor.certificate.record.statement import canonical
from monitor.certificate.signature.signing import sign
from monitor.model.errors import MisuseError


def refused(pdf, words=""):
    found = verify(pdf, scenes.CSV)
    assert not found.ok
    assert all(one.endswith((".", ")")) for one in (*found.faults, *found.sentences))
    assert any(words in one for one in (*found.faults, *found.sentences)), found
    return found


@settings(max_examples=200)
@given(st.binary(max_size=3000))
def test_any_bytes(data):
    refused(data)
    refused(b"%PDF-1.7\n" + data + b"/ByteRange [0 10 8204 12]" + data)


@settings(max_examples=40)
@given(st.data())
def test_any_piece_of_a_certificate(met, data):
    start = data.draw(st.integers(0, len(met)))
    end = data.draw(st.integers(start, len(met)))
    if end - start < len(met):
        assert not verify(met[start:end], scenes.CSV, name_changes=False).ok


@pytest.mark.parametrize(
    "record",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"{}",
        b"null",
        b'{"format":"heaptender-certificate","version":1}',
        b'{"a":1,"a":2}',
        b'{ "a": 1}',
        b"[" * 100_000,
        b'{"a":' * 5000 + b"1" + b"}" * 5000,
        b'{"a":1e999}',
        b'{"a":NaN}',
        b'{"a":' + b"9" * 6000 + b"}",
    ],
)
def test_a_record_of_any_kind(keys, record):
    refused(scenes.enclosed(keys, record, pack(b"")))


def test_readings_that_grow_without_end_are_refused(keys, met, monkeypatch):
    from monitor.certificate.checking import remaking
    from monitor.certificate.record import attached_rows

    monkeypatch.setattr(remaking, "unpack", lambda packed: attached_rows.unpack(packed, 10**6))
    tree = json.loads(open_container(met, scenes.place(met)).record)
    bomb = pack(b"\0" * 50_000_000)
    tree["readings"]["sha256"] = sha256(bomb).hexdigest()
    from monitor.certificate.record.statement import certificate_id

    tree["id"] = certificate_id(tree)
    refused(scenes.enclosed(keys, canonical(tree), bomb), "unpack to more")


@settings(max_examples=25)
@given(st.data())
def test_a_record_with_anything_anywhere(keys, met, data):
    """The yard's own key signs; still every wild value is a sentence."""
    from monitor.certificate.checking.remaking import work_again
    from monitor.certificate.record.statement import certificate_id

    attached = open_container(met, scenes.place(met))
    tree = json.loads(attached.record)
    below, key = tree, data.draw(st.sampled_from(sorted(tree)))
    top = key
    while isinstance(below[key], (dict, list)) and below[key] and data.draw(st.booleans()):
        below = below[key]
        key = data.draw(st.sampled_from(sorted(below))) if isinstance(below, dict) else 0
    was = below[key]
    below[key] = data.draw(
        st.one_of(
            st.none(),
            st.booleans(),
            st.integers(-(2**53) + 1, 2**53 - 1),
            st.text(max_size=9),
            st.lists(st.none(), max_size=2),
        )
    )
    tree["id"] = certificate_id(tree) if isinstance(tree.get("id"), str) else tree["id"]
    try:
        again = work_again(type(attached)(record=canonical(tree), readings=attached.readings), scenes.CSV)
    except MisuseError:
        return
    same = below[key] == was and type(below[key]) is type(was)
    # What people state cannot be worked out from readings; what was worked out must be told.
    worked_out = {"finding", "without_smoothing", "without_probes", "readings", "format", "version", "id"}
    assert same or again.differences or top not in worked_out


def test_a_pdf_of_another_kind_is_no_certificate(keys):
    plain = typeset({"main.typ": b'#set document(date: datetime(year: 2026, month: 1, day: 1), title: "x")\nx'})
    refused(plain, "no signature")
    refused(sign(plain, scenes.key(keys), "Yard", scenes.ISSUED))


@pytest.mark.parametrize("place", [None, (10, 8204)])
def test_attachments_of_what_is_no_pdf_are_refused_in_a_sentence(place):
    with pytest.raises(MisuseError, match="cannot be read by its structure"):
        open_container(b"%PDF-1.7\nnothing follows", place)


def test_a_public_key_that_is_none_is_misuse(met):
    with pytest.raises(MisuseError):
        verify(met, scenes.CSV, b"nonsense")


@pytest.mark.parametrize("start", [-2_200_000_000_000, 0, 200_000_000_000_000])
def test_times_and_values_at_their_ends(keys, start):
    one = scenes.probe("a", np.array([10**12, -(10**12)], dtype=np.int64), start=start)
    case = scenes.case(probes=(one,), turnings=(), restarts=())
    assert verify(scenes.certificate(keys, case), scenes.CSV).ok


def test_times_that_no_calendar_shows_are_a_sentence(keys):
    one = scenes.probe("a", np.array([50_000, 60_000], dtype=np.int64), start=-62_135_596_800_000)
    with pytest.raises(MisuseError, match="its times must be wrong"):
        scenes.certificate(keys, scenes.case(probes=(one,), turnings=(), restarts=()))


@pytest.mark.parametrize(("library", "step"), [("rfc8785", "canonical"), ("cryptography.x509.oid", "open_key")])
def test_a_library_that_is_missing_is_told_in_a_sentence(monkeypatch, tmp_path, library, step):
    import sys

    from monitor import certificate
    from monitor.model.errors import UnavailableError

    monkeypatch.setitem(sys.modules, library, None)
    with pytest.raises(UnavailableError, match="install Heaptender with its extra `certificate`"):
        certificate.canonical({}) if step == "canonical" else certificate.open_key(tmp_path / "k", "Yard", 0)


def test_looking_at_a_case_loads_nothing_that_only_documents_need():
    import subprocess
    import sys

    program = (
        "import sys, monitor.certificate, monitor.certificate.judged\n"
        "print(*{'typst', 'pyhanko', 'cryptography', 'rfc8785', 'asn1crypto'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == ""
