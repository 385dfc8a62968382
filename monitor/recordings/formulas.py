"""Cells that a spreadsheet would run as a formula, and the mark that makes them text; our own reader removes the mark.

Rules: a cell that begins like a formula (= + - @, a tab, a line end, or the wide forms of the signs) gets an apostrophe
before it; so does a cell that begins with an apostrophe, so that every text survives a round trip. The reader removes an
apostrophe before one of these; before anything else it belongs to the text.

Source: OWASP, *CSV Injection* (which characters begin a formula; from memory).
"""

MARK = "'"
_BEGINS = frozenset("=+-@\t\r\n＝＋－＠" + MARK)


def defused(text: str) -> str:
    """Return a text as a cell that no spreadsheet runs."""
    return MARK + text if text[:1] in _BEGINS else text


def as_written(cell: str) -> str:
    """Return the original text of a cell."""
    return cell[1:] if cell[:1] == MARK and cell[1:2] in _BEGINS else cell
