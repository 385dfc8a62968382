"""Whether a record is an interim one: the batch lies there still, is under way, and has not met its rule yet.

A heap four days old has failed nothing. The verdict stays *not met*; the pages say that it is not met *yet*, and how far it is.
"""

from monitor.certificate.judged import Case, Judgement
from monitor.certificate.pages.sheet_wording import Wording, length, several
from monitor.model.times import DAY_MS
from monitor.proof.verdict import Finding, Outcome

UNDER_WAY_MS = 7 * DAY_MS
"""Longer after its last instant at temperature, or its last raw material, it is not under way (ours; that of *stalled*)."""


def is_interim(case: Case, judgement: Judgement) -> bool:
    """Return whether a batch that has not met its rule may well do so: it lies there, and was at temperature lately.

    Only the journal knows that a batch lies there still; of files nobody does.
    """
    finding = judgement.finding
    lies = bool(case.batch) and bool(case.lay_on) and case.lay_on[-1][2] is None
    if finding.outcome is not Outcome.NOT_MET or not lies:
        return False
    since = max(finding.counts_from, finding.start, finding.hold[-1][1] if finding.hold else 0)
    return judgement.as_of - since <= UNDER_WAY_MS


def so_far(finding: Finding) -> str:
    """Return the progress as the rule counts it: `4 of 15 days, 0 of 5 turnings`."""
    values = finding.values
    told = [
        f"{min(values.get(key, 0), values[f'{key}_needed']):g} of {several(int(values[f'{key}_needed']), key[:-1])}"
        for key in ("days", "turnings")
        if f"{key}_needed" in values
    ]
    return ", ".join(told) or f"{length(finding.total_ms)} at temperature in all"


def interim_sentence(case: Case, judgement: Judgement, wording: Wording) -> str:
    """Return the one sentence under the verdict of an interim record.

    Args:
        case: What it is about.
        judgement: What came of it.
        wording: How values are put into words.

    Returns:
        How far the batch is, as of when, and that its rule goes on.
    """
    return (
        f"So far: {so_far(judgement.finding)}, as of {wording.when(judgement.as_of)}. The batch lies in "
        f"{case.lay_on[-1][0]} still, and its rule goes on."
    )
