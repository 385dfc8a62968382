"""The headline of a message: the place, what is wrong, and its number. It is a mail's subject and a group message's first line.

It is cut out of the first sentence, so that it never contradicts the message. The message itself says how long, since when,
which limit and what to do. A number that nobody hears any more keeps the instant of which it is: without it, it would be one
of now.
"""

import re

from monitor.notices.localtime import WEEKDAYS

HEADLINE_MOST = 78
"""A longer headline is cut at a blank (RFC 5322 asks for lines of at most 78 characters)."""

_TIME = rf"(?=\x1f|[0-9]|yesterday |(?:{'|'.join(WEEKDAYS)}) )"
_CUT = re.compile(rf" \(|; |\.(?= |$)|, since |,? (?:since|from) {_TIME}|\n")
"""The end of the number or of the sentence; a time may stand as a mark (`instants`)."""
_OLD = re.compile(r", as (?:read|last measured|last heard) [^\n]+?(?=: )")
"""How a sentence says that its number is an old one (`facts.Phrases.heading`)."""
_HAS_BEEN = {"has been": "is", "has needed": "needs"}
_STILL = re.compile(r"\b(still on|not known to be over)\b", re.IGNORECASE)


def headline(text: str, place: str) -> str:
    """Return the headline of a message or of its one-line form.

    Args:
        text: The message; its opening (*Still on after 2 h: *) is left out.
        place: The name of its place; "" where it has none.
    """
    opening, found, rest = text.partition(place) if place else ("", "", text)
    if not found:
        opening, rest = "", text
    kept = f"{'' if opening.endswith(': ') else opening}{found}"
    cut = _CUT.search(rest)
    what = rest[: cut.start()] if cut is not None else rest
    if cut is not None and "since" in cut[0]:
        # Without its *since*, *has been* reads wrong.
        for perfect, present in _HAS_BEEN.items():
            what = what.replace(f" {perfect} ", f" {present} ")
    old = _OLD.search(rest, len(what)) if cut is not None else None
    of_then = "" if old is None else old[0]
    return _short(f"{kept}{what}".strip(" :,"), HEADLINE_MOST - len(of_then)) + of_then


def standing(text: str) -> str:
    """Return `, still on` or `, not known to be over` where a message says so, else nothing."""
    found = _STILL.search(text)
    return f", {found[1].lower()}" if found else ""


def and_more(first: str, more: int) -> str:
    """Return a headline with the number of other things that the message tells."""
    return _short(first, HEADLINE_MOST - 14) + (f", and {more} more" if more else "")


def _short(text: str, most: int = HEADLINE_MOST) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rsplit(' ', 1)[0].rstrip(',;:')} …"
