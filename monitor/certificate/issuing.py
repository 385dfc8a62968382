"""Issues a certificate: judged, stated, set, signed, and checked once before it is handed out."""

from hashlib import sha256
from typing import TYPE_CHECKING

from monitor.certificate.judged import Case, judge_case
from monitor.certificate.pages import layout_digest, make_document, typst_version
from monitor.certificate.record import CsvFormat, Imprint, gather_rows, make_statement, pack
from monitor.certificate.signature import BrokenSeal, check_seal, sign
from monitor.model.errors import InvariantError

if TYPE_CHECKING:
    from monitor.certificate.signature import SigningKey


def draft(case: Case, issued_at: int, key_id: str, csv: CsvFormat) -> bytes:
    """Return a certificate as it is before it is signed; the same for the same arguments.

    Args:
        case: What it is about.
        issued_at: When it is issued, UTC ms.
        key_id: The key that will sign it, SHA-256 of its SubjectPublicKeyInfo, hexadecimal.
        csv: Writes the readings.

    Returns:
        The PDF.

    Raises:
        MisuseError: The case cannot be judged.
        UnavailableError: A library is missing, or the pages cannot be set.
    """
    judgement = judge_case(case)
    readings = pack(csv.write(gather_rows(case.probes)))
    imprint = Imprint(
        issued_at=issued_at,
        key_id=key_id,
        readings_sha256=sha256(readings).hexdigest(),
        typst=typst_version(),
        layout=layout_digest(),
    )
    return make_document(case, judgement, make_statement(case, judgement, imprint), readings)


def issue(case: Case, issued_at: int, key: "SigningKey", csv: CsvFormat) -> bytes:
    """Return a signed certificate.

    Args:
        case: What it is about.
        issued_at: When it is issued, UTC ms.
        key: Signs it.
        csv: Writes the readings.

    Returns:
        The file.

    Raises:
        InvariantError: The certificate just made does not verify.
        MisuseError: As `draft`.
        UnavailableError: As `draft`.
    """
    signed = sign(draft(case, issued_at, key.key_id, csv), key, case.site, issued_at)
    try:
        seal = check_seal(signed)
    except BrokenSeal as fault:
        raise InvariantError(f"The certificate just made does not verify: {fault}") from fault
    if seal.key_id != key.key_id:
        raise InvariantError("The certificate just made was signed with another key than it names.")
    return signed
