"""What a signature's bytes may be and what they may not, with the sentence for each; and what the yard's key is made of."""

import stat
from datetime import UTC, datetime
from pathlib import Path

import certificate_scenes as scenes
import pytest
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat
from cryptography.x509 import load_pem_x509_certificate
from cryptography.x509.oid import NameOID

from monitor.certificate import open_key, read_public_key, rotate_key
from monitor.certificate.signature import keys as keys_module
from monitor.certificate.signature import seal as seal_module
from monitor.certificate.signature.cms_form import take_apart
from monitor.certificate.signature.keys import CERTIFICATE_FILE, FORMER, KEY_FILE, key_id, parse_public_key
from monitor.certificate.signature.seal import BrokenSeal, check_seal
from monitor.model.errors import MisuseError, UnavailableError

NOW = 1_780_000_000_123


def broken(pdf):
    """Return the sentence about a file whose signature does not hold, and where its signature stands."""
    with pytest.raises(BrokenSeal) as found:
        check_seal(bytes(pdf))
    return str(found.value), found.value.place


def put(pdf, at, text):
    return pdf[:at] + text + pdf[at + len(text) :]


def test_a_seal_says_where_it_stands_and_whose_it_is(met, keys):
    seal = check_seal(met)
    assert seal.key_id == key_id(seal.key) == scenes.key(keys).key_id
    assert (met[seal.start : seal.start + 1], met[seal.end - 1 : seal.end]) == (b"<", b">")
    assert seal.end - seal.start == 8192 + 2


def test_what_is_no_certificate_at_all_is_told_apart(met, monkeypatch):
    assert broken(b"hello") == ("This is not a PDF file: it does not begin with %PDF.", None)
    assert broken(b"%PDF-1.7\nnothing") == ("There is no signature in this file.", None)
    monkeypatch.setattr(seal_module, "LARGEST_PDF", len(met))
    assert check_seal(met)
    monkeypatch.setattr(seal_module, "LARGEST_PDF", len(met) - 1)
    assert broken(met) == (f"The file is larger than {len(met) - 1} bytes; no certificate is.", None)


def stated(pdf):
    """Return where the stated range begins in a file, and its four numbers."""
    at = pdf.rindex(b"/ByteRange [") + len(b"/ByteRange [")
    return at, [int(one) for one in pdf[at : pdf.index(b"]", at)].split()]


def ranged(pdf, *numbers):
    """Return the file with another range stated, in as many bytes."""
    at, _ = stated(pdf)
    end = pdf.index(b"]", at)
    text = b" ".join(b"%d" % one for one in numbers)
    return pdf[:at] + text + b"]" + b" " * (end - at - len(text)) + pdf[end + 1 :]


WHOLE = "The signature does not cover the whole file: its range was changed, or the file is cut short."
ELSEWHERE = "The signature is not where its range says: the range was changed."


def test_a_range_that_covers_less_or_more_than_the_file_is_refused(met):
    _, (first, length, second, rest) = stated(met)
    assert first == 0
    assert broken(met + b"abc") == ("3 bytes were put behind the signed document.", None)
    assert broken(met[:-1]) == (WHOLE, None)
    assert broken(ranged(met, 1, length, second, rest)) == (WHOLE, None)
    assert broken(ranged(met, 0, second, second, rest)) == (WHOLE, None)
    assert broken(ranged(met, 0, length, second, rest + 1))[0] == WHOLE
    assert broken(ranged(met, 0, length, second, rest - 1))[0] == "1 bytes were put behind the signed document."
    for change in ((length - 1, second - 1, rest + 1), (length + 1, second, rest), (length, second - 1, rest + 1)):
        assert broken(ranged(met, 0, *change)) == (ELSEWHERE, None), change
    assert broken(put(met, length, b"(")) == (ELSEWHERE, None)
    assert broken(put(met, second - 1, b")")) == (ELSEWHERE, None)


def test_the_digits_of_a_signature_have_one_spelling(met):
    seal = check_seal(met)
    where = (seal.start, seal.end)
    digits = met[seal.start + 1 : seal.end - 1]
    size = 4 + int(digits[4:8], 16)

    def told(text):
        return broken(met[: seal.start + 1] + text + met[seal.end - 1 :])

    changed = "The signature's own bytes were changed: "
    assert told(digits.lower()) == (changed + "it is not written in capital hexadecimal.", where)
    assert told(b"31" + digits[2:]) == (changed + "it does not begin as a signature does.", where)
    assert told(b"3081" + digits[4:]) == (changed + "it does not begin as a signature does.", where)
    assert told(digits[:4] + b"FFFF" + digits[8:]) == (changed + "it is cut short.", where)
    assert told(digits[: 2 * size] + b"01" + digits[2 * size + 2 :]) == (
        "The space behind the signature was changed: it must be zeros.", where,
    )  # fmt: skip
    assert told(digits[:-1] + b"1")[0].startswith("The space behind the signature")
    full = b"%04X" % (len(digits) // 2 - 4)
    assert "cut short" not in told(digits[:4] + full + digits[8:])[0], "the whole space may be used"


def test_a_document_that_changed_is_told_from_a_signature_that_did(met):
    seal = check_seal(met)
    assert broken(put(met, 40, bytes([met[40] ^ 1])))[0] == (
        "The file was changed after it was signed: its bytes do not fit the signature."
    )
    assert broken(put(met, 40, bytes([met[40] ^ 1])))[1] == (seal.start, seal.end)
    digits = bytearray(met[seal.start + 1 : seal.end - 1])
    size = 2 * (4 + int(digits[4:8], 16))
    digits[size - 1] = ord("0") if digits[size - 1] != ord("0") else ord("1")
    told = broken(met[: seal.start + 1] + digits + met[seal.end - 1 :])
    assert told == ("The signature does not fit its key: it was changed.", (seal.start, seal.end))


def der_of(pdf):
    seal = check_seal(pdf)
    whole = bytes.fromhex(pdf[seal.start + 1 : seal.end - 1].decode())
    return whole[: 4 + int.from_bytes(whole[2:4], "big")]


def test_a_signature_is_taken_apart_whole_or_not_at_all(met):
    der = der_of(met)
    certificate, value = take_apart(der)
    assert der.count(certificate) == 1
    assert der.endswith(value)
    for end in range(len(der)):
        with pytest.raises(ValueError, match=r"there is no|another element|cut short"):
            take_apart(der[:end])
    with pytest.raises(ValueError, match="there is no head"):
        take_apart(b"\x00" * 60 + der)


# The yard's key


def made(folder, owner="Tern Hollow"):
    return load_pem_x509_certificate(open_key(folder, owner, NOW).certificate_pem)


def test_a_certificate_says_whose_key_it_is_and_what_it_is_for(tmp_path):
    found = made(tmp_path / "keys")
    for name in (found.subject, found.issuer):
        assert [(one.oid, one.value) for one in name] == [(NameOID.COMMON_NAME, "Tern Hollow")]
    assert found.not_valid_before_utc == datetime.fromtimestamp(NOW // 1000, UTC)
    assert found.not_valid_after_utc == datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)
    constraints, usage = found.extensions
    assert (constraints.value.ca, constraints.critical, usage.critical) == (False, True, True)
    names = (
        "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
        "key_cert_sign", "crl_sign",
    )  # fmt: skip
    assert [name for name in names if getattr(usage.value, name)] == ["digital_signature", "content_commitment"]
    assert isinstance(found.public_key().curve, ec.SECP256R1)


@pytest.mark.parametrize(
    ("owner", "named"), [("", "Yard"), ("  \n ", "Yard"), (" Tern\nHollow ", "Tern Hollow"), ("x" * 70, "x" * 64)]
)
def test_the_name_in_a_certificate_is_one_line_of_64_letters(tmp_path, owner, named):
    (one,) = made(tmp_path / "keys", owner).subject
    assert one.value == named


def test_files_of_a_key_bear_their_modes_and_nothing_else_lies_there(tmp_path):
    folder = tmp_path / "data" / "keys"
    old = open_key(folder, "Yard", NOW)
    assert {one.name: stat.S_IMODE(one.stat().st_mode) for one in folder.iterdir()} == {
        KEY_FILE: 0o600,
        CERTIFICATE_FILE: 0o644,
    }
    new = rotate_key(folder, "Yard", NOW)
    assert sorted(one.name for one in folder.iterdir()) == sorted([KEY_FILE, CERTIFICATE_FILE, FORMER])
    assert [one.name for one in (folder / FORMER).iterdir()] == [f"{old.key_id}.pem"]
    assert (folder / FORMER / f"{old.key_id}.pem").read_bytes() == old.certificate_pem
    assert stat.S_IMODE((folder / FORMER).stat().st_mode) == 0o700
    rotate_key(folder, "Yard", NOW)
    assert {one.stem for one in (folder / FORMER).iterdir()} == {old.key_id, new.key_id}


def test_rotating_where_there_is_no_key_makes_the_first(tmp_path):
    assert rotate_key(tmp_path / "keys", "Yard", NOW).key_id == open_key(tmp_path / "keys", "Yard", NOW).key_id
    assert not (tmp_path / "keys" / FORMER).exists()


@pytest.mark.parametrize(("mode", "refused"), [(0o700, False), (0o710, True), (0o701, True), (0o500, False)])
def test_a_folder_is_its_owners_alone(tmp_path, mode, refused):
    folder = tmp_path / "keys"
    open_key(folder, "Yard", NOW)
    folder.chmod(mode)
    if refused:
        with pytest.raises(MisuseError, match=rf"\(mode {mode:o}\).*: run `chmod 700 {folder}`"):
            open_key(folder, "Yard", NOW)
    else:
        assert open_key(folder, "Yard", NOW)
    folder.chmod(0o700)
    (folder / KEY_FILE).chmod(0o604)
    with pytest.raises(MisuseError, match=rf"\(mode 604\).*: run `chmod 600 {folder / KEY_FILE}`"):
        open_key(folder, "Yard", NOW)


def test_a_new_key_is_not_put_into_a_folder_of_others(tmp_path):
    folder = tmp_path / "keys"
    folder.mkdir()
    folder.chmod(0o755)
    with pytest.raises(MisuseError, match="chmod 700"):
        open_key(folder, "Yard", NOW)
    assert list(folder.iterdir()) == []


def test_a_certificate_without_its_key_is_not_overwritten(tmp_path):
    folder = tmp_path / "keys"
    open_key(folder, "Yard", NOW)
    (folder / KEY_FILE).unlink()
    for opened in (open_key, rotate_key):
        with pytest.raises(MisuseError, match=f"{CERTIFICATE_FILE} is there but its key {KEY_FILE} is not"):
            opened(folder, "Yard", NOW)


def pem(private):
    return private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


@pytest.mark.parametrize(
    "make", [lambda: rsa.generate_private_key(65537, 2048), lambda: ec.generate_private_key(ec.SECP384R1())]
)
def test_a_key_of_another_kind_is_refused(tmp_path, make):
    folder = tmp_path / "keys"
    open_key(folder, "Yard", NOW)
    private = make()
    (folder / KEY_FILE).write_bytes(pem(private))
    with pytest.raises(MisuseError, match=f"{KEY_FILE} .*P-256"):
        open_key(folder, "Yard", NOW)
    public = private.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    with pytest.raises(
        MisuseError, match="the public key holds another kind of key; certificates are signed with P-256 keys"
    ):
        parse_public_key(public)


def test_a_public_key_is_read_from_either_kind_of_file(tmp_path, monkeypatch):
    key = open_key(tmp_path / "keys", "Yard", NOW)
    public = key.private.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    for text in (public, key.certificate_pem):
        file = tmp_path / "public.pem"
        file.write_bytes(text)
        assert read_public_key(file) == text
        assert key_id(parse_public_key(text)) == key.key_id
    with pytest.raises(MisuseError, match="is not there or no file"):
        read_public_key(tmp_path)
    file.write_bytes(b"nonsense")
    with pytest.raises(MisuseError, match=f"{file} is no public key; it would be a PEM text"):
        read_public_key(file)
    monkeypatch.setattr(keys_module.Path, "open", fails)
    with pytest.raises(UnavailableError, match=f"{file} cannot be read \\(disk on fire\\)"):
        read_public_key(file)


def fails(*_, **__):
    raise OSError(5, "disk on fire")


def test_a_disk_that_fails_is_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr(keys_module.os, "open", fails)
    with pytest.raises(
        UnavailableError, match=f"The signing key in {tmp_path / 'keys'} cannot be used \\(disk on fire\\)"
    ):
        open_key(tmp_path / "keys", "Yard", NOW)


def test_making_a_key_leaves_nothing_open(tmp_path):
    open_key(tmp_path / "first", "Yard", NOW)
    before = len(list(Path("/proc/self/fd").iterdir()))
    open_key(tmp_path / "second", "Yard", NOW)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
