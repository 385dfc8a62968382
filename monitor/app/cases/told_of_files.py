"""Remarks on the files behind a case: how they were read, and what in them was not used."""

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

from monitor.app.cases.clashes import told_of_clashes
from monitor.app.cases.read_files import Files, Read
from monitor.app.cases.which_rule import KnownRule
from monitor.engine import BatchRecord
from monitor.model.work import Work

_NAMED = 6


def about_files(
    files: Files, read: Read, known: KnownRule, chosen: Sequence[str], record: BatchRecord
) -> Iterator[str]:
    """Yield the remarks on the files.

    Args:
        files: The files and the pile.
        read: Their content.
        known: The rule.
        chosen: The probes to judge by.
        record: The batch's record.
    """
    names = ", ".join(path.name for path in files.readings)
    yield (
        f"The readings come from {names}, as they were handed in: nothing is known of how they were taken, and only "
        "error codes and impossible values were looked for."
    )
    unread = sum(len(read.unread(name)) for name in chosen)
    if unread:
        rows = "1 row of readings" if unread == 1 else f"{unread:,} rows of readings"
        yield f"{rows} cannot be read: from the reading before each to the one after it nothing is proven."
    yield from filter(None, (_conflicts(read, known),))
    if partly := sorted(read.partly_by_hand.intersection(chosen)):
        yield (
            f"Some rows of {', '.join(partly)} say who read them and others do not: all are taken for a probe's, not for "
            "readings by hand. Where a person read them all, `--by-hand` says so."
        )
    if known.rule.wants_turnings and not files.work:
        yield "No work log was handed in, so no turning is known."
    if read.works and not any(files.pile in (work.place, work.to) for work in read.works):
        yield f"No entry of the work log is about {files.pile}: nothing in it was used."
    elif elsewhere := _elsewhere(read.works, record):
        yield f"Entries of the work log about other places are no part of this record: {elsewhere}."


def _elsewhere(works: Sequence[Work], record: BatchRecord) -> str:
    """Return the places whose entries were not used, with their number."""
    used = {one.work for one, _ in record.works}
    places = {pile for pile, _, _ in record.spans}
    found: dict[str, int] = {}
    for work in works:
        if work not in used and work.place not in places:
            found[work.place] = found.get(work.place, 0) + 1
    named = [f"{place} ({count})" for place, count in sorted(found.items())]
    more = f" and {len(named) - _NAMED} more" if len(named) > _NAMED else ""
    return ", ".join(named[:_NAMED]) + more


def left_out_lines(files: Files, read: Read, chosen: Sequence[str]) -> str:
    """Return page 1's sentence about lines that might mean anything and were left out; "" if there are none.

    Args:
        files: Says whether lines were to be left out.
        read: The files' content.
        chosen: The probes to judge by.
    """
    doubtful = read.doubtful(chosen)
    if not files.leave_out or not doubtful:
        return ""
    count = len(doubtful) + read.more
    named = ", ".join(f"{Path(one.file).name} line {one.line}" for one in doubtful[:_NAMED])
    more = "" if count <= _NAMED else f" and {count - _NAMED:,} more"
    what = "1 line that cannot be read was" if count == 1 else f"{count:,} lines that cannot be read were"
    return (
        f"{what} left out, as whoever asked for this wanted; what stood there might change the verdict ({named}{more})."
    )


def not_asked_for(read: Read, others: Collection[str]) -> str:
    """Return page 1's sentence about probes in the files that nobody named as the core's; "" if there are none.

    Args:
        read: The files' content.
        others: Probes whose place is known: those judged by, those read by hand, those that lie elsewhere.
    """
    left = [name for name in read.columns if name not in others]
    if not left:
        return ""
    named = ", ".join(left[:_NAMED]) + (f" and {len(left) - _NAMED} more" if len(left) > _NAMED else "")
    return (
        f"The files hold temperatures of {named} too; whoever asked for this certificate did not name "
        f"{'it' if len(left) == 1 else 'them'} as lying in the core."
    )


def left_out_of(
    files: Files, read: Read, known: KnownRule, chosen: Sequence[str], others: Collection[str]
) -> tuple[str, str, str]:
    """Return page 1's sentences about lines left out, probes not asked for, and values that clash; "" for none.

    Args:
        files: Says whether lines were to be left out.
        read: The files' content.
        known: The rule.
        chosen: The probes to judge by.
        others: As for `not_asked_for`.
    """
    return left_out_lines(files, read, chosen), not_asked_for(read, others), _conflicts(read, known)


def _conflicts(read: Read, known: KnownRule) -> str:
    mixed = sum(len(one.mixed) for one in read.columns.values())
    shown = [" beside ".join(rows) for rows in read.clashes]
    return told_of_clashes(len(set(read.conflicts)), mixed, shown, known.rule)
