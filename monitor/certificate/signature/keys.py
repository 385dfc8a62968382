"""The yard's signing key: one P-256 key in a folder of its own, made at first use.

The folder (mode 0700) holds `signing-key.pem` (PKCS #8, mode 0600), the certificate made with it
`signing-certificate.pem` (self-made X.509), and `former/` with the certificate of each key that was rotated out: what
they signed can still be told to be the yard's. A key is named by the SHA-256 of its SubjectPublicKeyInfo.

A key that others can read is refused: a person who copied it could sign as the yard.
"""

import os
import stat
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.certificate.extra import needing
from monitor.model.errors import MisuseError, UnavailableError

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey, EllipticCurvePublicKey
    from cryptography.x509 import Certificate

KEY_FILE = "signing-key.pem"
CERTIFICATE_FILE = "signing-certificate.pem"
FORMER = "former"
_LARGEST_PEM = 100_000
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_NEVER_ENDS = datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)  # RFC 5280, 4.1.2.5: no well-defined end


@dataclass(frozen=True, slots=True)
class SigningKey:
    """A key that can sign.

    Attributes:
        private: The P-256 private key.
        certificate: The self-made certificate that carries its public key.
    """

    private: "EllipticCurvePrivateKey"
    certificate: "Certificate"

    @property
    def key_id(self) -> str:
        """SHA-256 of the SubjectPublicKeyInfo, hexadecimal."""
        return key_id(self.private.public_key())

    @property
    def certificate_pem(self) -> bytes:
        """The certificate, for who wants to check what this key signed."""
        from cryptography.hazmat.primitives.serialization import Encoding  # noqa: PLC0415

        return self.certificate.public_bytes(Encoding.PEM)


def key_id(public: "EllipticCurvePublicKey") -> str:
    """Return the name of a public key: SHA-256 of its SubjectPublicKeyInfo, hexadecimal."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat  # noqa: PLC0415

    return sha256(public.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).hexdigest()


def open_key(folder: Path, owner: str, now_ms: int) -> SigningKey:
    """Return the key of a folder; make folder and key where there is none.

    Args:
        folder: Where the key lies.
        owner: Name of the yard, for the certificate of a new key.
        now_ms: The present, UTC ms, from which a new certificate is valid.

    Returns:
        The key, with its certificate.

    Raises:
        MisuseError: Others can read or change the key, or it is not a P-256 key with its certificate.
        UnavailableError: It cannot be read or written, or a library is missing.
    """
    with needing(), _told(folder):
        if not (folder / KEY_FILE).exists():
            if (folder / CERTIFICATE_FILE).exists():
                raise MisuseError(
                    f"{folder / CERTIFICATE_FILE} is there but its key {KEY_FILE} is not; put the key back from its "
                    f"backup, or move the certificate to {folder / FORMER} to begin with a new key."
                )
            return _make(folder, owner, now_ms)
        _refuse_shared(folder)
        _refuse_shared(folder / KEY_FILE)
        return _load(folder)


def rotate_key(folder: Path, owner: str, now_ms: int) -> SigningKey:
    """Return a new key that takes the place of the present one.

    The certificate of the old key goes to `former/`; its private half is deleted.

    Args:
        folder: Where the key lies.
        owner: Name of the yard, for the certificate of the new key.
        now_ms: The present, UTC ms, from which the new certificate is valid.

    Returns:
        The new key.

    Raises:
        MisuseError: As `open_key`.
        UnavailableError: As `open_key`.
    """
    with needing(), _told(folder):
        if (folder / KEY_FILE).exists():
            old = open_key(folder, owner, now_ms)
            _folder(folder / FORMER)
            _write(folder / FORMER / f"{old.key_id}.pem", old.certificate_pem, 0o644)
            (folder / CERTIFICATE_FILE).unlink()
            (folder / KEY_FILE).unlink()
        return open_key(folder, owner, now_ms)


def read_public_key(path: Path) -> bytes:
    """Return the PEM text of a public key or certificate.

    Raises:
        MisuseError: It is neither, or not there.
        UnavailableError: It cannot be read, or a library is missing.
    """
    try:
        with path.open("rb") as file:
            text = file.read(_LARGEST_PEM)
    except (FileNotFoundError, IsADirectoryError) as fault:
        raise MisuseError(f"{path} is not there or no file; name the yard's public key or certificate.") from fault
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be read ({fault.strerror or fault}).") from fault
    parse_public_key(text, str(path))
    return text


def parse_public_key(text: bytes, where: str = "the public key") -> "EllipticCurvePublicKey":
    """Return the key of a PEM public key or certificate.

    Raises:
        MisuseError: It is neither, or its key is not on the curve P-256.
        UnavailableError: A library is missing.
    """
    with needing():
        from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415
        from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePublicKey  # noqa: PLC0415
        from cryptography.hazmat.primitives.serialization import load_pem_public_key  # noqa: PLC0415
        from cryptography.x509 import load_pem_x509_certificate  # noqa: PLC0415
    try:
        is_certificate = b"-----BEGIN CERTIFICATE-----" in text
        key = load_pem_x509_certificate(text).public_key() if is_certificate else load_pem_public_key(text)
    except (ValueError, TypeError, UnsupportedAlgorithm) as fault:
        raise MisuseError(
            f"{where} is no public key; it would be a PEM text that begins with `-----BEGIN CERTIFICATE-----` or "
            "`-----BEGIN PUBLIC KEY-----`."
        ) from fault
    if not isinstance(key, EllipticCurvePublicKey) or not isinstance(key.curve, SECP256R1):
        raise MisuseError(f"{where} holds another kind of key; certificates are signed with P-256 keys.")
    return key


class _told:  # noqa: N801
    """Turns a fault of the disk into a sentence."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __enter__(self) -> None:
        return None

    def __exit__(self, _kind: object, fault: BaseException | None, _trace: object) -> None:
        if isinstance(fault, OSError):
            raise UnavailableError(
                f"The signing key in {self._folder} cannot be used ({fault.strerror or fault})."
            ) from fault


def _make(folder: Path, owner: str, now_ms: int) -> SigningKey:
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import (  # noqa: PLC0415
        Encoding,
        NoEncryption,
        PrivateFormat,
    )

    _folder(folder)
    _refuse_shared(folder)
    private = generate_private_key(SECP256R1())
    made = SigningKey(private, _certificate(private, owner, now_ms))
    # The key last: a folder with a certificate and no key is told of, a key without its certificate would be lost.
    _write(folder / CERTIFICATE_FILE, made.certificate_pem, 0o644)
    _write(folder / KEY_FILE, private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)
    return made


def _certificate(private: "EllipticCurvePrivateKey", owner: str, now_ms: int) -> "Certificate":
    from cryptography import x509  # noqa: PLC0415
    from cryptography.hazmat.primitives.hashes import SHA256  # noqa: PLC0415
    from cryptography.x509.oid import NameOID  # noqa: PLC0415

    named = "".join(sign if sign.isprintable() else " " for sign in owner).strip()[:64] or "Yard"  # X.520 allows 64
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, named)])
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before((_EPOCH + timedelta(milliseconds=now_ms)).replace(microsecond=0))
        .not_valid_after(_NEVER_ENDS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(private, SHA256())
    )


def _load(folder: Path) -> SigningKey:
    from cryptography.exceptions import UnsupportedAlgorithm  # noqa: PLC0415
    from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePrivateKey  # noqa: PLC0415
    from cryptography.hazmat.primitives.serialization import load_pem_private_key  # noqa: PLC0415
    from cryptography.x509 import load_pem_x509_certificate  # noqa: PLC0415

    try:
        private = load_pem_private_key((folder / KEY_FILE).read_bytes(), None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as fault:
        raise MisuseError(
            f"{folder / KEY_FILE} is no usable key ({fault}); put it back from its backup, or move it away to begin "
            "with a new one."
        ) from fault
    if not isinstance(private, EllipticCurvePrivateKey) or not isinstance(private.curve, SECP256R1):
        raise MisuseError(f"{folder / KEY_FILE} holds another kind of key; it must be a P-256 key.")
    try:
        certificate = load_pem_x509_certificate((folder / CERTIFICATE_FILE).read_bytes())
    except (ValueError, FileNotFoundError) as fault:
        raise MisuseError(
            f"{folder / CERTIFICATE_FILE} is missing or no certificate; put it back from its backup."
        ) from fault
    if certificate.public_key() != private.public_key():
        raise MisuseError(
            f"{folder / CERTIFICATE_FILE} belongs to another key than {KEY_FILE}; put the right one back."
        )
    return SigningKey(private, certificate)


def _refuse_shared(path: Path) -> None:
    mode = stat.S_IMODE(path.stat().st_mode)
    if mode & 0o077:
        right = "700" if path.is_dir() else "600"
        raise MisuseError(
            f"{path} can be read or changed by others (mode {mode:o}), who could sign in the yard's name: "
            f"run `chmod {right} {path}`; if others may have seen the key, rotate it."
        )


def _folder(folder: Path) -> None:
    if not folder.exists():
        folder.mkdir(mode=0o700, parents=True)


def _write(path: Path, text: bytes, mode: int) -> None:
    """Write a file that has its mode from the first moment on, and is whole or not there."""
    beside = path.with_suffix(".new")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
    with os.fdopen(handle, "wb") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    beside.chmod(mode)
    beside.replace(path)
    within = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(within)
    finally:
        os.close(within)
