"""A batch's certificate: judged, written, signed, and checked again by anyone.

`case` is what is known of a batch; `judging` holds it against its rule; `statement` is all that the certificate says,
as canonical JSON; `document` sets the pages; `signing` signs them; `verification` checks a file. What needs typst,
pyHanko or cryptography is loaded when it is first asked for, and named in one sentence where it is missing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.certificate.case import Attested, Case, CaseProbe, CaseWork, ServiceEntry
from monitor.certificate.rows import CsvFormat, CsvRows

if TYPE_CHECKING:
    from monitor.certificate.issuing import draft, issue
    from monitor.certificate.judging import Judgement, judge_case
    from monitor.certificate.keys import SigningKey, open_key, public_keys, read_public_key, rotate_key
    from monitor.certificate.statement import canonical, make_statement
    from monitor.certificate.verification import Verification, verify

__all__ = [
    "Attested",
    "Case",
    "CaseProbe",
    "CaseWork",
    "CsvFormat",
    "CsvRows",
    "Judgement",
    "ServiceEntry",
    "SigningKey",
    "Verification",
    "canonical",
    "draft",
    "issue",
    "judge_case",
    "make_statement",
    "open_key",
    "public_keys",
    "read_public_key",
    "rotate_key",
    "verify",
]

_LATER = {
    "Judgement": "judging",
    "judge_case": "judging",
    "canonical": "statement",
    "make_statement": "statement",
    "draft": "issuing",
    "issue": "issuing",
    "SigningKey": "keys",
    "open_key": "keys",
    "public_keys": "keys",
    "read_public_key": "keys",
    "rotate_key": "keys",
    "Verification": "verification",
    "verify": "verification",
}


def __getattr__(name: str) -> Any:
    """Load what a certificate needs and other commands do not."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
