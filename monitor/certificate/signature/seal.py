"""Checks the signature of a document by its bytes alone, and refuses whatever could be changed without breaking it.

Rules:

1. The signed range is the whole file but for the signature's own hexadecimal digits; nothing stands before or after.
2. The signature (CMS) has exactly one form (`cms_form`): it is encoded anew as DER and compared byte for byte. So there
   are no unsigned attributes, no second certificate, no other algorithm, no other spelling. All digits behind it are
   zeros, all letters in it are capitals.
3. The signed attributes name the certificate by its SHA-256, so it cannot be exchanged; the certificate is signed by
   its own key. Of two equivalent ECDSA values only the smaller is valid.

Nothing here trusts the file's structure; who reads a PDF by its structure looks at it afterwards (`container`).
"""

import re
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from monitor.certificate.extra import needing
from monitor.certificate.signature.cms_form import as_signed, signed_attributes, take_apart, whole_form
from monitor.certificate.signature.keys import key_id
from monitor.certificate.signature.signing import P256_ORDER, RESERVED_HEX
from monitor.model.errors import MisuseError, UnavailableError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePublicKey

LARGEST_PDF = 512 * 2**20
"""No certificate is larger, bytes."""

_RANGE = re.compile(rb"/ByteRange \[(\d{1,12}) (\d{1,12}) (\d{1,12}) (\d{1,12})\]")
_CAPITALS = re.compile(rb"[0-9A-F]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """A signature that holds.

    Attributes:
        key: The public key that it was made with.
        key_id: SHA-256 of its SubjectPublicKeyInfo, hexadecimal.
        start, end: Place of the signature in the file, its brackets included.
    """

    key: "EllipticCurvePublicKey"
    key_id: str
    start: int
    end: int


class BrokenSeal(MisuseError):  # noqa: N818 - said as a sentence, not as an error of the program
    """A signature that does not hold.

    Attributes:
        place: Start and end of the signature's place where it could be found, else None.
        key_id: The key that the signature names, or "".
    """

    def __init__(self, sentence: str, place: tuple[int, int] | None = None) -> None:
        """Keep the sentence."""
        super().__init__(sentence)
        self.place = place


def check_seal(pdf: bytes) -> Seal:
    """Return the signature of a document.

    Raises:
        BrokenSeal: There is none, it does not cover the whole file, it does not fit it, or it is not in its one form.
        UnavailableError: A library is missing.
    """
    if len(pdf) > LARGEST_PDF:
        raise BrokenSeal(f"The file is larger than {LARGEST_PDF} bytes; no certificate is.")
    if not pdf.startswith(b"%PDF-"):
        raise BrokenSeal("This is not a PDF file: it does not begin with %PDF.")
    start, end = _place(pdf)
    digits = pdf[start + 1 : end - 1]
    der = _der(digits, (start, end))
    digest = sha256(memoryview(pdf)[:start])
    digest.update(memoryview(pdf)[end:])
    try:
        key = _check_cms(der, digest.digest())
    except BrokenSeal as fault:
        raise BrokenSeal(str(fault), (start, end)) from fault
    except UnavailableError:
        raise
    except Exception as fault:
        raise BrokenSeal("The signature's own bytes were changed: they cannot be read.", (start, end)) from fault
    return Seal(key=key, key_id=key_id(key), start=start, end=end)


def _place(pdf: bytes) -> tuple[int, int]:
    """Return where the signature stands, its brackets included."""
    found = list(_RANGE.finditer(pdf))
    if not found:
        raise BrokenSeal("There is no signature in this file.")
    first, length, second, rest = (int(number) for number in found[-1].groups())
    if first != 0 or second + rest != len(pdf) or length >= second:
        behind = len(pdf) - (second + rest)
        if first == 0 and behind > 0:
            raise BrokenSeal(f"{behind} bytes were put behind the signed document.")
        raise BrokenSeal(
            "The signature does not cover the whole file: its range was changed, or the file is cut short."
        )
    if second - length != RESERVED_HEX + 2 or pdf[length : length + 1] != b"<" or pdf[second - 1 : second] != b">":
        raise BrokenSeal("The signature is not where its range says: the range was changed.")
    return length, second


def _der(digits: bytes, place: tuple[int, int]) -> bytes:
    """Return the signature's bytes without the zeros behind them."""
    if _CAPITALS.fullmatch(digits) is None:
        raise BrokenSeal("The signature's own bytes were changed: it is not written in capital hexadecimal.", place)
    whole = bytes.fromhex(digits.decode("ascii"))
    # SEQUENCE with a length of two bytes: shorter would not hold a certificate, longer would not fit in here.
    if whole[:2] != b"\x30\x82":
        raise BrokenSeal("The signature's own bytes were changed: it does not begin as a signature does.", place)
    size = 4 + int.from_bytes(whole[2:4], "big")
    if size > len(whole):
        raise BrokenSeal("The signature's own bytes were changed: it is cut short.", place)
    if any(whole[size:]):
        raise BrokenSeal("The space behind the signature was changed: it must be zeros.", place)
    return whole[:size]


def _check_cms(der: bytes, digest: bytes) -> "EllipticCurvePublicKey":
    with needing():
        from cryptography.exceptions import InvalidSignature  # noqa: PLC0415
        from cryptography.hazmat.primitives.asymmetric.ec import (  # noqa: PLC0415
            ECDSA,
            SECP256R1,
            EllipticCurvePublicKey,
        )
        from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature  # noqa: PLC0415
        from cryptography.hazmat.primitives.hashes import SHA256  # noqa: PLC0415
        from cryptography.x509 import load_der_x509_certificate  # noqa: PLC0415
    certificate_der, value = take_apart(der)
    certificate = load_der_x509_certificate(certificate_der)
    key = certificate.public_key()
    if not isinstance(key, EllipticCurvePublicKey) or not isinstance(key.curve, SECP256R1):
        raise BrokenSeal("The signature was made with another kind of key than P-256.")
    attributes = signed_attributes(certificate, certificate_der, digest)
    if whole_form(certificate, certificate_der, attributes, value) != der:
        if digest not in der:
            raise BrokenSeal("The file was changed after it was signed: its bytes do not fit the signature.")
        raise BrokenSeal(
            "The signature's own bytes were changed: it is not in the one form that it can have "
            "(one signer, one certificate, no unsigned attributes, DER)."
        )
    try:
        key.verify(value, as_signed(attributes), ECDSA(SHA256()))
        key.verify(certificate.signature, certificate.tbs_certificate_bytes, ECDSA(SHA256()))
    except InvalidSignature as fault:
        raise BrokenSeal("The signature does not fit its key: it was changed.") from fault
    if decode_dss_signature(value)[1] > P256_ORDER // 2:
        raise BrokenSeal("The signature's own bytes were changed: its value is not in its smaller form.")
    return key
