"""Cells that a spreadsheet would run as a formula, and the mark that makes them text; our own reading takes it off again.

Rules: a cell that begins as a formula does (= + - @, a tab, a line end, or the wide forms of the signs) gets an apostrophe
before it; so does one that begins with an apostrophe, so that every text comes back as it was. On reading, an apostrophe before
one of these is taken off; before anything else it belongs to the text.

Source: OWASP, *CSV Injection* (which characters begin a formula; from memory).
"""

MARK = "'"
_BEGINS = frozenset("=+-@\t\r\n＝＋－＠" + MARK)


def defused(text: str) -> str:
    """Return a text as a cell that no spreadsheet runs."""
    return MARK + text if text[:1] in _BEGINS and text else text


def as_written(cell: str) -> str:
    """Return the text that was made into a cell."""
    return cell[1:] if cell[:1] == MARK and cell[1:2] in _BEGINS and len(cell) > 1 else cell
