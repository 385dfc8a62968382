"""The section on what went into a batch, by deliveries and other heaps, and page 1's words where one of them carries a risk."""

from collections.abc import Iterator

from monitor.certificate.judged import Case, CaseInput
from monitor.certificate.pages.passages import Section, cut_rows, section
from monitor.certificate.pages.sheet_wording import Wording
from monitor.material import HeatStatus, NodeKind

_MOST = 100
_HEAT: dict[str, str] = {
    HeatStatus.RAW: "not heated",
    HeatStatus.RUNNING: "not hot for long enough",
    HeatStatus.MET: "had met its rule",
    HeatStatus.VOID: "raw material had come in since",
}


def risk_words(case: Case) -> str:
    """Return page 1's sentence on the risks of what went into a batch; "" if none is known."""
    by_risk: dict[str, list[CaseInput]] = {}
    for one in case.inputs:
        for risk in one.risks:
            by_risk.setdefault(risk, []).append(one)
    if not by_risk:
        return ""
    said = "; ".join(f"{risk} by {_brought(some)}" for risk, some in sorted(by_risk.items()))
    return (
        f"By the log as it stood when this was issued, a risk goes with what went into it: {said}. The heat proven here says "
        "nothing of that."
    )


def inputs_section(case: Case, wording: Wording) -> Iterator[Section]:
    """Yield the section; none where nothing is recorded of what went in.

    Args:
        case: What the certificate is about.
        wording: How instants are put into words.
    """
    if not case.inputs:
        return
    rows, more = cut_rows([_row(one, wording) for one in case.inputs], _MOST, "inputs")
    yield section(
        "What went into it",
        "By the log as it stood when this was issued: deliveries and other heaps, also by way of one another. Where several "
        "deliveries of one material lay open, each of them may have been used.",
        head=["What", "From", "Came in", "Is it in there", "Heat then", "Risks"],
        rows=rows,
        widths=["1.8fr", "1.2fr", "1.3fr", "0.9fr", "1.2fr", "1fr"],
        after=more,
    )


def _row(one: CaseInput, wording: Wording) -> list[str]:
    return [
        _named(one),
        one.supplier or "–",
        wording.when(one.until if one.came is None else one.came),
        "surely" if one.certain else "perhaps",
        "–" if one.heat_status is None else _HEAT.get(one.heat_status, one.heat_status),
        ", ".join(one.risks) or one.looked_for or "–",
    ]


def _named(one: CaseInput) -> str:
    if one.kind == NodeKind.DELIVERY:
        return f"{one.what} ({one.id})"
    if one.kind == NodeKind.UNRECORDED:
        return f"{one.id}, of which no delivery is written down"
    if one.kind == NodeKind.EARLIER:
        return f"what lay in {one.id} before the record"
    return f"{'heap' if one.kind == NodeKind.BATCH else one.kind} {one.id}"


def _brought(some: list[CaseInput]) -> str:
    return ", ".join(f"{one.what} {one.id} ({'surely' if one.certain else 'perhaps'})" for one in some)
