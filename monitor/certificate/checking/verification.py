"""Checks a certificate with its file alone: that nothing changed since it was signed, and that its readings bear it out.

Rules:

1. The cheap comes first: the signature over the bytes, then the structure, then the record against the readings, then
   the pages. A file that fails one step is not looked at further, except to name what was changed.
2. The record is not trusted: the case is read back from it, judged anew with the attached readings, stated anew, and
   compared with it whole. Every number must come out the same.
3. The pages are set anew and compared byte for byte where the same program and typesetter made them; else the reader is
   told to go by the verdict given here.
4. Without the yard's public key it is never said whose signature it is.
5. Whatever the file holds, the answer is a value with sentences; nothing is raised but for a missing library.
"""

from dataclasses import dataclass, field
from typing import Any

from monitor.certificate.checking.container import open_container
from monitor.certificate.checking.differences import byte_ranges, say_ranges
from monitor.certificate.checking.remaking import Reworked, set_again, work_again
from monitor.certificate.judged import MET_AS_ASKED, as_asked
from monitor.certificate.pages import layout_digest, own_rule, typst_version
from monitor.certificate.record import CsvFormat
from monitor.certificate.signature import BrokenSeal, Seal, check_seal, key_id, parse_public_key
from monitor.model.errors import MisuseError, UnavailableError
from monitor.proof.verdict import Outcome


@dataclass(slots=True)
class Verification:
    """The outcome of checking a certificate.

    Attributes:
        sentences: What was found, for people, the most important first; faults are not among them.
        faults: What is wrong, one sentence each.
        key_id: The key that signed it (SHA-256 of its SubjectPublicKeyInfo), "" where no signature holds.
        verdict: The verdict worked out anew (`met`, `not met`, `not proven`), "" where it did not come to that.
        pages_compared: Whether the pages were set anew and compared; where not, they may say anything.
    """

    sentences: list[str] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    key_id: str = ""
    verdict: str = ""
    pages_compared: bool = False

    @property
    def ok(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.faults


_NAMED = 30_000_000
"""Of a larger file whose signature does not hold it is not worked out what was changed (ours): that takes ten times as much."""


def verify(pdf: bytes, csv: CsvFormat, public_key: bytes | None = None, *, name_changes: bool = True) -> Verification:
    """Check a certificate.

    Args:
        pdf: The file.
        csv: Reads the attached readings.
        public_key: The yard's public key or certificate (PEM), or None where it is not known.
        name_changes: Whether to work out, for a file that was changed, which bytes were (that sets its pages anew).

    Returns:
        What was found; a file that is no certificate at all is a finding too.

    Raises:
        MisuseError: `public_key` is no public key.
        UnavailableError: A library is missing.
    """
    wanted = None if public_key is None else parse_public_key(public_key)
    report = Verification()
    try:
        seal = check_seal(pdf)
    except BrokenSeal as fault:
        report.faults.append(str(fault))
        place = fault.place
        if name_changes and len(pdf) <= _NAMED:
            report.sentences.extend(_guarded(lambda: _name_changes(pdf, place, csv)))
        return report
    report.key_id = seal.key_id
    if wanted is not None and wanted != seal.key:
        report.faults.append(
            f"It was signed with key {seal.key_id}, which is not the key given ({key_id(wanted)}): the yard did not sign "
            "this with that key."
        )
        return report
    report.sentences.extend(_say_key(seal, known=wanted is not None))
    report.faults.extend(_guarded(lambda: _look_inside(pdf, seal, csv, report)))
    return report


def _guarded(look: Any) -> list[str]:
    """Return the sentences of a look at what may be anything; what goes wrong in it is a sentence too."""
    try:
        found: list[str] = look()
    except UnavailableError:
        raise
    except MisuseError as fault:
        return [str(fault)]
    except Exception as fault:  # noqa: BLE001 - rule 5 of this module
        return [f"What is inside cannot be worked out ({type(fault).__name__})."]
    return found


def _say_key(seal: Seal, *, known: bool) -> list[str]:
    if known:
        return [f"Unchanged since it was signed with the key given ({seal.key_id})."]
    whose = "whether that is the yard's key is for you to check (ask the yard for its public key, name it with --key)"
    return [f"Unchanged since it was signed by key {seal.key_id}; {whose}."]


def _look_inside(pdf: bytes, seal: Seal, csv: CsvFormat, report: Verification) -> list[str]:
    """Return the faults of a document whose signature holds."""
    attached = open_container(pdf, (seal.start, seal.end))
    again = work_again(attached, csv)
    if again.imprint.key_id != seal.key_id:
        return [f"The record names another key ({again.imprint.key_id}) than the one that signed it."]
    report.verdict = again.judgement.finding.outcome.value
    current = (again.imprint.typst, again.imprint.layout) == (typst_version(), layout_digest())
    faults = [one.sentence() for one in again.differences if current or not one.worded]
    if faults:
        return faults
    report.sentences.extend(_say_verdict(again))
    if again.differences:
        report.sentences.append("Some reasons are worded otherwise by this version of the program; all numbers agree.")
    if not current:
        report.sentences.append(
            f"Its pages were set by another version ({again.case.software}, typst {again.imprint.typst}) and were not "
            "compared: go by the verdict said here, not by the printed one."
        )
        return []
    report.pages_compared = True
    whole, start, end = set_again(again, attached.readings)
    ranges = byte_ranges(_blank(pdf, seal.start, seal.end), _blank(whole, start, end))
    if ranges:
        return [f"The printed pages are not those that the attached record gives ({say_ranges(ranges)})."]
    report.sentences.append("The printed pages are, byte for byte, what the attached record gives.")
    return []


def _blank(pdf: bytes, start: int, end: int) -> bytes:
    """Return a document with the place of its signature filled with zeros."""
    return pdf[: start + 1] + b"0" * (end - start - 2) + pdf[end - 1 :]


def _say_verdict(again: Reworked) -> list[str]:
    case, finding = again.case, again.judgement.finding
    count = sum(int(one.times.size) for one in case.probes)
    place = case.pile_name or case.pile
    what = f"batch {case.batch} on {place}" if case.batch else place
    what += f", under rule {case.rule.id} ({case.rule.section})"
    sentences = [f"Worked out anew from the {count:,} attached readings: {finding.outcome.value}, for {what}."]
    sentences.append("Every number in the record agrees.")
    if case.rule.for_information and case.confirmed is None:
        sentences.append("For information only: nobody has confirmed this rule's figures against its current text.")
    if again.judgement.only_as_asked and again.judgement.usual is not None:
        sentences.append(f"It is {MET_AS_ASKED}. {as_asked(case, again.judgement.usual.outcome.value)}")
    if own := own_rule(case.rule.id, case.rule_text):
        sentences.append(own)
    if finding.outcome is not Outcome.MET:
        sentences.append(
            "Nothing was found wrong with the certificate; what it states is that the rule is not shown to be met."
        )
    sentences.append(
        "This cannot tell where the probes lay, nor whether the thermometers were right, nor who logged the work."
    )
    return sentences


def _name_changes(pdf: bytes, place: tuple[int, int] | None, csv: CsvFormat) -> list[str]:
    """Return the findings about a file whose signature does not hold: which part was changed, and where."""
    attached = open_container(pdf, None)
    again = work_again(attached, csv)
    if again.differences:
        return [one.sentence() for one in again.differences]
    if place is None:
        return ["The attached record and readings agree with each other; what was changed lies outside them."]
    whole, start, end = set_again(again, attached.readings)
    ranges = byte_ranges(_blank(pdf, *place), _blank(whole, start, end))
    if not ranges:
        return ["The pages, the record and the readings are as they were; only the signature itself was changed."]
    return [f"The attached record and readings agree with each other; changed is what lies at {say_ranges(ranges)}."]
