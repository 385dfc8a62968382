"""A batch's certificate: judged, written, signed, and checked again by anyone.

`case` holds the facts of a batch; `judging` holds them against its rule; `statement` is all that the certificate says, as
canonical JSON; `document` sets the pages; `signing` signs them; `verification` checks a file. The parts that need typst,
pyHanko or cryptography are loaded at the first use, and a sentence names the library where it is missing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.certificate.attached_rows import CsvRows
from monitor.certificate.case import Attested, CameFrom, Case, CaseProbe, CaseWork, ServiceEntry
from monitor.certificate.hand_lines import rounds_by_hand
from monitor.certificate.interim import is_interim, so_far
from monitor.certificate.judging import Judgement, accepted, calibrated, judge_case, member
from monitor.certificate.passages import own_rule
from monitor.certificate.sheet_wording import coarse, days_below, rounds_named
from monitor.certificate.statement import canonical, conditions, make_statement
from monitor.certificate.usual import MET_AS_ASKED, as_asked

if TYPE_CHECKING:
    from monitor.certificate.issuing import draft, issue
    from monitor.certificate.keys import SigningKey, open_key, read_public_key, rotate_key
    from monitor.certificate.verification import verify

__all__ = [
    "MET_AS_ASKED",
    "Attested",
    "CameFrom",
    "Case",
    "CaseProbe",
    "CaseWork",
    "CsvRows",
    "Judgement",
    "ServiceEntry",
    "SigningKey",
    "accepted",
    "as_asked",
    "calibrated",
    "canonical",
    "coarse",
    "conditions",
    "days_below",
    "draft",
    "is_interim",
    "issue",
    "judge_case",
    "make_statement",
    "member",
    "open_key",
    "own_rule",
    "read_public_key",
    "rotate_key",
    "rounds_by_hand",
    "rounds_named",
    "so_far",
    "verify",
]

_LATER = {
    "draft": "issuing",
    "issue": "issuing",
    "SigningKey": "keys",
    "open_key": "keys",
    "read_public_key": "keys",
    "rotate_key": "keys",
    "verify": "verification",
}


def __getattr__(name: str) -> Any:
    """Load what a certificate needs and other commands do not."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
