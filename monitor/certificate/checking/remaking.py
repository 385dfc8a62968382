"""Works a certificate out anew from its attachments: the record read back, judged, stated, set."""

import json
from dataclasses import dataclass
from hashlib import sha256

from monitor.certificate.checking.container import Attached
from monitor.certificate.checking.differences import Difference, tree_differences
from monitor.certificate.judged import Case, Judgement, judge_case
from monitor.certificate.pages import make_document
from monitor.certificate.record import (
    JSON_FILE,
    MOST_ROWS,
    READINGS_FILE,
    CsvFormat,
    Imprint,
    Tree,
    canonical,
    certificate_id,
    make_statement,
    restore_case,
    restore_imprint,
    unpack,
)
from monitor.certificate.signature import unsealed
from monitor.model.errors import MisuseError


@dataclass(frozen=True, slots=True, kw_only=True)
class Reworked:
    """The outcome of working a certificate out again.

    Attributes:
        said: The attached record.
        differences: Where it says other things than its readings give.
        case, judgement, imprint: What it is about, what came of it, and what it says of its own making.
    """

    said: Tree
    differences: list[Difference]
    case: Case
    judgement: Judgement
    imprint: Imprint


def work_again(attached: Attached, csv: CsvFormat) -> Reworked:
    """Return the attached record's statement and the one that its readings give.

    Raises:
        MisuseError: The record or the readings are not as they must be; the sentence says which, and what is wrong.
    """
    said = _parsed(attached.record)
    imprint = restore_imprint(said)
    if sha256(attached.readings).hexdigest() != imprint.readings_sha256:
        raise MisuseError(f"{READINGS_FILE} is not the one that the record names: it was changed or exchanged.")
    if said.get("id") != certificate_id(said):
        raise MisuseError(f"{JSON_FILE} does not fit its own number: it was changed.")
    try:
        rows = csv.read(unpack(attached.readings), MOST_ROWS)
    except ValueError as fault:
        raise MisuseError(f"The attached readings cannot be read ({fault}).") from fault
    case = restore_case(said, rows)
    judgement = judge_case(case)
    gives = make_statement(case, judgement, imprint)
    if canonical(gives) == attached.record:
        differences = []
    else:
        differences = [one for one in tree_differences(said, gives) if one.path != "id"]
    return Reworked(said=said, differences=differences, case=case, judgement=judgement, imprint=imprint)


def set_again(again: Reworked, readings: bytes) -> tuple[bytes, int, int]:
    """Return the whole document as it was when it was signed, and where its signature's place starts and ends."""
    document = make_document(again.case, again.judgement, again.said, readings)
    return unsealed(document, again.case.site, again.imprint.issued_at)


def _parsed(record: bytes) -> Tree:
    try:
        said = json.loads(record.decode("utf-8"))
        if isinstance(said, dict) and canonical(said) == record:
            return said
    except (ValueError, RecursionError) as fault:
        raise MisuseError(f"{JSON_FILE} is not JSON: it was changed.") from fault
    raise MisuseError(f"{JSON_FILE} is not in its canonical form (RFC 8785): it was changed.")
