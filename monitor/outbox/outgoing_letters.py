"""Turns a notice row into the outgoing message: its short id, a link and, in a digest, the head of the record.

Rules: the text is the engine's and stays as it is; every message shows its notice id; a message that may have arrived
before says so; nothing secret is added except the secrets of the link itself.
"""

import json
from dataclasses import dataclass

from monitor.model.effects import Occasion
from monitor.model.notice_rows import NoticeRow
from monitor.model.times import show_time
from monitor.model.words import Priority
from monitor.notices import DIGEST_OF, headline, standing

NO_ANSWER = "no answer in time"
"""Beginning of a failure's reason if the message may have arrived all the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """One message, ready for any channel.

    Attributes:
        row: Number of the row it was made of.
        title: A subject line.
        body: Plain text of several lines.
        data: Canonical JSON for programs.
        priority: Number of `model.words.Priority`.
        at: When it was decided, UTC ms; of two letters of one priority the older goes first.
    """

    row: int
    title: str
    body: str
    data: bytes
    priority: int
    at: int


def letter(row: NoticeRow, *, site: str, place: str, link: str, head: str, seen: str = "") -> Letter:
    """Compose the message of a row.

    Args:
        row: The row.
        site: Name of the yard.
        place: Name of the place, or "".
        link: Address of the place's page, or "".
        seen: Address at which a person can answer *seen*, or "".
        head: Head of the record's hash chain (hex), or ""; shown in digests, and always in the data for programs.

    Returns:
        The message.
    """
    repeat = row.maybe_repeat or row.why.startswith(NO_ANSWER)
    urgent = "URGENT: " if row.priority >= Priority.HIGHEST else ""
    title = f"{urgent}{_subject(row, place or site)} [{row.notice}]" + (" (may be a repeat)" if repeat else "")
    # One line, whatever the names hold: a mail's head must not go on in one.
    title = " ".join(title.split())
    lines = [row.text.rstrip()]
    if link:
        lines.append(link)
    if seen:
        lines.append(f"I'll see to it: {seen}")
    if head and row.occasion == Occasion.DIGEST:
        lines.append(f"Head of the record: {head}")
    lines.append(f"{site}, notice {row.notice}" + (", may be a repeat" if repeat else ""))
    data = {
        "at": show_time(row.at),
        "contact": row.contact,
        "head": head,
        "link": link,
        "may_be_a_repeat": repeat,
        "notice": row.notice,
        "occasion": row.occasion,
        "place": row.place,
        "priority": int(row.priority),
        "site": site,
        "text": row.text,
    } | ({"seen": seen} if seen else {})
    return Letter(
        row=row.id,
        title=title,
        body="\n".join(lines),
        data=json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode(),
        priority=int(row.priority),
        at=row.at,
    )


def _subject(row: NoticeRow, place: str) -> str:
    """Return the line for a list of mails: the place, the worst alarm and its number, and how many more there are."""
    first = row.text.split("\n", 1)[0].strip()
    if row.occasion == Occasion.GROUP:
        return first.removesuffix(".") or place
    if row.occasion == Occasion.DIGEST:
        worst, digest, _ = first.partition(f". {DIGEST_OF} ")
        return (worst if digest else first.split("; ", 1)[0]).removesuffix(".") or place
    found = headline(first, place)
    if not found:
        return place
    return (found if place in found else f"{place}: {found}") + standing(first)
