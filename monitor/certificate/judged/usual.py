"""The usual reading of a case, held beside one that was asked for and lets more pass.

Rules:
1. Usual are the coldest probe, readings at most 2 h apart, rounds by hand at most 26 h apart, and no running mean.
2. A person who asks for another basis, for longer gaps or for a running mean gets it. Where the usual reading does not
   come to *met*, the certificate is *met only as asked*, serves for information, and says on page 1 why.
"""

from collections.abc import Iterator
from dataclasses import replace

from monitor.certificate.judged.case import Case
from monitor.model.thresholds import RULE_GAP_MS, RULE_HAND_GAP_MS
from monitor.model.times import show_duration
from monitor.proof.holdset import HoldBasis

MET_AS_ASKED = "met only as asked"
"""The verdict's words where the usual reading comes to less."""


def departures(case: Case) -> Iterator[str]:
    """Yield in what a case is judged otherwise than usual, so that more may pass; nothing where it is not."""
    if case.basis is HoldBasis.MEAN:
        yield "by the mean of the probes"
    elif case.basis is HoldBasis.EACH:
        yield "by each probe by itself"
    if case.smoothing_ms:
        yield f"by a running mean over {show_duration(case.smoothing_ms)}"
    if case.max_gap_ms > RULE_GAP_MS and not all(one.by_hand for one in case.probes):
        yield f"across gaps of up to {show_duration(case.max_gap_ms)}"
    if case.hand_gap_ms > RULE_HAND_GAP_MS and any(one.by_hand for one in case.probes):
        yield f"across up to {show_duration(case.hand_gap_ms)} between two rounds by hand"


def usual_case(case: Case) -> Case | None:
    """Return the case as it is usually judged, or None where it is."""
    if not any(departures(case)):
        return None
    return replace(
        case,
        basis=HoldBasis.COLDEST,
        smoothing_ms=0,
        max_gap_ms=min(case.max_gap_ms, RULE_GAP_MS),
        hand_gap_ms=min(case.hand_gap_ms, RULE_HAND_GAP_MS),
    )


def as_asked(case: Case, usual: str) -> str:
    """Return the sentence that says how it was judged and what is usual; `usual` is the verdict of the usual reading."""
    return (
        f"Judged {', '.join(departures(case))}, as was asked for. By the usual reading (the coldest probe, readings at most "
        f"{show_duration(RULE_GAP_MS)} and rounds by hand at most {show_duration(RULE_HAND_GAP_MS)} apart, no running "
        f"mean) it is: {usual}."
    )
