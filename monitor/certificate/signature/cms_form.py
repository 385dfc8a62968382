"""The one form in which a certificate's signature may be written: CMS (RFC 5652) as PAdES wants it, in DER.

One signer, one certificate, three signed attributes (content type, message digest, and the signing certificate's
SHA-256, RFC 5035), no unsigned ones, ECDSA with SHA-256. Everything in it follows from the certificate, the digest of
the document and the signature's value; so the whole is built anew from these three and compared byte for byte, and
no byte of it can be chosen freely.
"""

from hashlib import sha256
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

_SEQUENCE, _SET, _OCTETS, _INTEGER, _OID = 0x30, 0x31, 0x04, 0x02, 0x06
_FIRST, _DIRECTORY_NAME = 0xA0, 0xA4  # context tags [0] and [4], constructed


def _element(tag: int, *parts: bytes) -> bytes:
    """Return one DER element."""
    content = b"".join(parts)
    size = len(content)
    if size < 0x80:
        return bytes((tag, size)) + content
    digits = size.to_bytes((size.bit_length() + 7) // 8, "big")
    return bytes((tag, 0x80 | len(digits))) + digits + content


def _oid(hexadecimal: str) -> bytes:
    return _element(_OID, bytes.fromhex(hexadecimal))


_DATA = _oid("2a864886f70d010701")  # 1.2.840.113549.1.7.1
_SIGNED_DATA = _oid("2a864886f70d010702")  # 1.2.840.113549.1.7.2
_CONTENT_TYPE = _oid("2a864886f70d010903")  # 1.2.840.113549.1.9.3
_MESSAGE_DIGEST = _oid("2a864886f70d010904")  # 1.2.840.113549.1.9.4
_SIGNING_CERTIFICATE = _oid("2a864886f70d010910022f")  # 1.2.840.113549.1.9.16.2.47
_ECDSA_SHA256 = _element(_SEQUENCE, _oid("2a8648ce3d040302"))  # 1.2.840.10045.4.3.2
_SHA256 = _element(_SEQUENCE, _oid("608648016503040201"), b"\x05\x00")  # 2.16.840.1.101.3.4.2.1, NULL
_VERSION_1 = _element(_INTEGER, b"\x01")
_HEAD = _element(_SET, _SHA256) + _element(_SEQUENCE, _DATA)


def signed_attributes(certificate: "Certificate", certificate_der: bytes, digest: bytes) -> bytes:
    """Return the content of the set of signed attributes.

    Args:
        certificate: The signer's certificate.
        certificate_der: The same in DER.
        digest: SHA-256 of the document that is signed, 32 bytes.

    Returns:
        The attributes in DER, in the order that DER asks of a set.
    """
    issuer = certificate.issuer.public_bytes()
    serial = _serial(certificate)
    named = _element(
        _SEQUENCE,
        _element(_OCTETS, sha256(certificate_der).digest()),
        _element(_SEQUENCE, _element(_SEQUENCE, _element(_DIRECTORY_NAME, issuer)), serial),
    )
    attributes = [
        _element(_SEQUENCE, _CONTENT_TYPE, _element(_SET, _DATA)),
        _element(_SEQUENCE, _MESSAGE_DIGEST, _element(_SET, _element(_OCTETS, digest))),
        _element(
            _SEQUENCE,
            _SIGNING_CERTIFICATE,
            _element(_SET, _element(_SEQUENCE, _element(_SEQUENCE, named))),
        ),
    ]
    return b"".join(sorted(attributes))


def as_signed(attributes: bytes) -> bytes:
    """Return the bytes that the signature is made over (RFC 5652, 5.4: a SET, whatever its tag in the message)."""
    return _element(_SET, attributes)


def whole_form(certificate: "Certificate", certificate_der: bytes, attributes: bytes, value: bytes) -> bytes:
    """Return the whole signature as it stands in the document.

    Args:
        certificate: The signer's certificate.
        certificate_der: The same in DER.
        attributes: The signed attributes, as `signed_attributes` returns them.
        value: The signature over them, in DER.

    Returns:
        The signature in DER.
    """
    signer = _element(
        _SEQUENCE,
        _VERSION_1,
        _element(_SEQUENCE, certificate.issuer.public_bytes(), _serial(certificate)),
        _SHA256,
        _element(_FIRST, attributes),
        _ECDSA_SHA256,
        _element(_OCTETS, value),
    )
    signed = _element(_SEQUENCE, _VERSION_1, _HEAD, _element(_FIRST, certificate_der), _element(_SET, signer))
    return _element(_SEQUENCE, _SIGNED_DATA, _element(_FIRST, signed))


def take_apart(der: bytes) -> tuple[bytes, bytes]:
    """Return the certificate (DER) and the signature's value, from where they stand in the one form.

    Raises:
        ValueError: They are not there.
    """
    at = der.find(_HEAD)
    if at < 0 or at > 64:
        raise ValueError("there is no head")
    outer, _ = _content(der, at + len(_HEAD), _FIRST)
    start, end = _content(der, outer, _SEQUENCE)
    certificate = der[outer:end]
    mark = der.rfind(_ECDSA_SHA256)
    if mark < end:
        raise ValueError("there is no value")
    start, end = _content(der, mark + len(_ECDSA_SHA256), _OCTETS)
    return certificate, der[start:end]


def _content(der: bytes, at: int, tag: int) -> tuple[int, int]:
    """Return where the content of an element starts and ends."""
    if at + 2 > len(der) or der[at] != tag:
        raise ValueError("another element stands there")
    start, size = at + 2, der[at + 1]
    if size >= 0x80:
        start += size & 0x7F
        size = int.from_bytes(der[at + 2 : start], "big")
    if start + size > len(der):
        raise ValueError("it is cut short")
    return start, start + size


def _serial(certificate: "Certificate") -> bytes:
    number = certificate.serial_number
    return _element(_INTEGER, number.to_bytes(number.bit_length() // 8 + 1, "big", signed=True))
