"""Puts the signature on a document: PAdES (ETSI EN 319 142, `ETSI.CAdES.detached`), one P-256 key, by pyHanko.

Rules:

1. All bytes but those of the signature itself are a function of the document, the site's name and the time: no clock,
   no random identifier. So who checks a certificate can make it again and compare everything outside the signature.
2. Of the two equivalent values of an ECDSA signature the smaller is written, and only that one is taken as valid.
3. What was signed is checked before it is handed out; a certificate that would not verify is never issued.
"""

import asyncio
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from io import BytesIO
from typing import TYPE_CHECKING, Any

from monitor.certificate.extra import needing
from monitor.model.errors import InvariantError

if TYPE_CHECKING:
    from collections.abc import Generator

    from monitor.certificate.signature.keys import SigningKey

RESERVED_HEX = 8192
"""Room for the signature: hexadecimal digits, twice its bytes."""

FIELD = "Signature"
REASON = "Self-declared record of time above temperature"
P256_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
"""Order of the curve P-256 (FIPS 186-5)."""


def sign(document: bytes, key: "SigningKey", site: str, issued_at: int) -> bytes:
    """Return the document with its signature.

    Args:
        document: The PDF.
        key: Signs it.
        site: The yard's name, which the signature bears.
        issued_at: UTC ms.

    Returns:
        The signed PDF.
    """
    prepared, embedding = _prepare(document, site, issued_at)
    signature = asyncio.run(_signer(key).async_sign(prepared.document_digest, "sha256", use_pades=True))
    embedding.send(signature)
    output: BytesIO = embedding.output
    return output.getvalue()


def unsealed(document: bytes, site: str, issued_at: int) -> tuple[bytes, int, int]:
    """Return the document as it is signed, the signature's place still zeros.

    Args:
        document: The PDF.
        site: The yard's name, which the signature bears.
        issued_at: UTC ms.

    Returns:
        The PDF, and where the signature's place starts and ends in it, bytes from its beginning.
    """
    prepared, embedding = _prepare(document, site, issued_at)
    output: BytesIO = embedding.output
    return output.getvalue(), prepared.reserved_region_start, prepared.reserved_region_end


class _Embedding:
    """pyHanko's embedding under way, and where it writes to."""

    def __init__(self, steps: "Generator[Any, Any, Any]", output: BytesIO) -> None:
        self._steps = steps
        self.output = output

    def send(self, signature: Any) -> None:
        self._steps.send(signature)


def _prepare(document: bytes, site: str, issued_at: int) -> tuple[Any, _Embedding]:
    with needing():
        from pyhanko.sign.fields import SigFieldSpec, SigSeedSubFilter  # noqa: PLC0415
        from pyhanko.sign.signers.cms_embedder import PdfCMSEmbedder, SigIOSetup, SigObjSetup  # noqa: PLC0415
        from pyhanko.sign.signers.pdf_byterange import SignatureObject  # noqa: PLC0415
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=issued_at)
    placeholder = SignatureObject(
        timestamp=at.replace(microsecond=0),
        subfilter=SigSeedSubFilter.PADES,
        name=site,
        reason=REASON,
        bytes_reserved=RESERVED_HEX,
    )
    steps = PdfCMSEmbedder(new_field_spec=SigFieldSpec(FIELD)).write_cms(FIELD, _steady_writer(document))
    next(steps)
    steps.send(SigObjSetup(sig_placeholder=placeholder))
    prepared, output = steps.send(SigIOSetup(md_algorithm="sha256", output=BytesIO()))
    return prepared, _Embedding(steps, output)


def _steady_writer(document: bytes) -> Any:
    from pyhanko.pdf_utils import generic  # noqa: PLC0415
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter  # noqa: PLC0415

    class SteadyWriter(IncrementalPdfFileWriter):
        """Writes the same update for the same document: no time of day, and an identifier from the document itself."""

        @classmethod
        def _handle_id(cls, prev: Any) -> Any:
            first = prev.trailer["/ID"][0]
            whole = getattr(first, "original_bytes", first)
            return generic.ArrayObject(
                [
                    generic.ByteStringObject(bytes(whole)),
                    generic.ByteStringObject(sha256(document).digest()[:16]),
                ]
            )

        def _update_meta(self) -> None:
            """Leave the dates as the document has them."""

    return SteadyWriter(BytesIO(document))


def _signer(key: "SigningKey") -> Any:
    with needing():
        from asn1crypto import algos, x509  # noqa: PLC0415
        from cryptography.hazmat.primitives.asymmetric.ec import ECDSA  # noqa: PLC0415
        from cryptography.hazmat.primitives.asymmetric.utils import (  # noqa: PLC0415
            decode_dss_signature,
            encode_dss_signature,
        )
        from cryptography.hazmat.primitives.hashes import SHA256  # noqa: PLC0415
        from cryptography.hazmat.primitives.serialization import Encoding  # noqa: PLC0415
        from pyhanko.sign.signers.pdf_cms import Signer  # noqa: PLC0415
        from pyhanko_certvalidator.registry import SimpleCertificateStore  # noqa: PLC0415

    class KeySigner(Signer):
        """Signs with the yard's key, in the smaller of the two forms."""

        async def async_sign_raw(self, data: bytes, digest_algorithm: str, dry_run: bool = False) -> bytes:
            """Return the signature over `data`."""
            if digest_algorithm != "sha256" or dry_run:
                raise InvariantError("another signature is asked for than this form of certificate has")
            r, s = decode_dss_signature(key.private.sign(data, ECDSA(SHA256())))
            return encode_dss_signature(r, min(s, P256_ORDER - s))

    return KeySigner(
        signing_cert=x509.Certificate.load(key.certificate.public_bytes(Encoding.DER)),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
        signature_mechanism=algos.SignedDigestAlgorithm({"algorithm": "sha256_ecdsa"}),
    )
