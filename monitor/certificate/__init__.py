"""A batch's certificate: judged, written, signed, and checked again by anyone.

The rooms, from the ground up; each shows what others may use on its face:

- `judged`: a batch's facts (`Case`), and how they stand by its rule.
- `record`: all that the certificate says, as canonical JSON and packed rows; written, and read back.
- `pages`: the same for people, set by typst; `signature`: the key, the signature, and its check.
- `issuing`: a document made and signed; `checking`: a document taken apart, worked out anew and compared.

What judges a batch is imported at once; what writes, signs and checks documents when it is first taken: heat is asked about
far more often. Typst, pyHanko and cryptography are loaded where they are needed, and a sentence names the library where it is
missing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.certificate.judged import (
    MET_AS_ASKED,
    Attested,
    CameFrom,
    Case,
    CaseInput,
    CaseProbe,
    CaseWork,
    Judgement,
    ServiceEntry,
    accepted,
    as_asked,
    calibrated,
    judge_case,
    member,
    proving_lines,
    rounds_by_hand,
)

if TYPE_CHECKING:
    from monitor.certificate.checking import verify
    from monitor.certificate.issuing import draft, issue
    from monitor.certificate.pages import coarse, days_below, is_interim, own_rule, risk_words, rounds_named, so_far
    from monitor.certificate.record import CsvRows, canonical, conditions, make_statement
    from monitor.certificate.signature import SigningKey, open_key, read_public_key, rotate_key

_LATER = {
    "verify": "checking",
    **dict.fromkeys(("draft", "issue"), "issuing"),
    **dict.fromkeys(
        ("coarse", "days_below", "is_interim", "own_rule", "risk_words", "rounds_named", "so_far"), "pages"
    ),
    **dict.fromkeys(("CsvRows", "canonical", "conditions", "make_statement"), "record"),
    **dict.fromkeys(("SigningKey", "open_key", "read_public_key", "rotate_key"), "signature"),
}


def __getattr__(name: str) -> Any:
    """Load a name that judging does not need when it is first taken."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
