"""Puts the pages of a certificate together: a function of the case, its judgement and the attachments."""

import json
from importlib.resources import files

from monitor.certificate.judged import Case, Judgement
from monitor.certificate.pages.figures import draw_course, draw_heap
from monitor.certificate.pages.probe_pages import COURSE_FILE, HEAP_FILE
from monitor.certificate.pages.sheet import make_sheet
from monitor.certificate.pages.sheet_wording import Wording
from monitor.certificate.pages.typesetting import typeset
from monitor.certificate.record import JSON_FILE, READINGS_FILE, Tree, canonical
from monitor.model.errors import MisuseError
from monitor.model.times import parse_time
from monitor.proof.governing import LinePiece, clip, governing
from monitor.proof.temperature import smooth

_FIRST_MS = parse_time("1900-01-01T00:00:00Z")
_LAST_MS = parse_time("9000-01-01T00:00:00Z")


def make_document(case: Case, judgement: Judgement, tree: Tree, readings: bytes) -> bytes:
    """Return the pages as PDF/A-3b, with the record and the packed readings attached.

    Args:
        case: What it is about.
        judgement: What came of it.
        tree: All that the certificate states (`statement`).
        readings: The readings as a packed file.

    Returns:
        The file, not signed yet.

    Raises:
        MisuseError: The record reaches beyond the years that a calendar can show.
        UnavailableError: The pages cannot be set.
    """
    if judgement.start < _FIRST_MS or judgement.end > _LAST_MS:
        raise MisuseError("The record reaches beyond the years 1900 to 9000; its times must be wrong.")
    pieces = _pieces(case, judgement)
    wording = Wording.of(case)
    sheet = make_sheet(case, judgement, tree, parse_time(tree["issued"]), pieces)
    return typeset(
        {
            "main.typ": files("monitor.certificate.pages").joinpath("certificate.typ").read_bytes(),
            "sheet.json": json.dumps(sheet, ensure_ascii=False).encode(),
            COURSE_FILE: draw_course(case, judgement, pieces, wording).encode(),
            HEAP_FILE: draw_heap(case, judgement, wording).encode(),
            JSON_FILE: canonical(tree),
            READINGS_FILE: readings,
        }
    )


def _pieces(case: Case, judgement: Judgement) -> tuple[LinePiece, ...]:
    """Return the line that the verdict goes by, between the ends of the record."""
    series = judgement.lines
    if case.smoothing_ms:
        series = tuple(smooth(one, case.smoothing_ms, case.max_gap_ms) for one in series)
    line = governing(series, max_gap_ms=case.max_gap_ms, basis=case.basis)
    return clip(line, judgement.start, judgement.end)
