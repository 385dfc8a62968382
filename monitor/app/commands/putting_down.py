"""The one way of a command to the log: it asks before it believes, says what would change with --only-say, or writes down.

Every command that writes entries goes through here, so that `--only-say` and `--again` mean the same with each of them.
"""

import time
from collections.abc import Callable, Sequence

import click

from monitor.app.commands.log_foretelling import say_ahead
from monitor.app.console.options import print_json
from monitor.app.entries.entries import Entry
from monitor.app.entries.foretelling import changes_ahead, foretell
from monitor.app.loop.asking import Taken, ask
from monitor.configuration import Configuration
from monitor.model.events import EventKind

Tell = Callable[[Entry, Taken, str], int]
"""Tells what became of the last entry, with the changes that it made, and returns the exit code."""


def put_down(
    configuration: Configuration,
    entries: Sequence[Entry],
    tell: Tell,
    *,
    again: bool,
    only_say: bool = False,
    as_json: bool = False,
    doubt: str = "",
) -> int:
    """Write entries down, ask about the first that is doubtful, or only say what they would change; return the exit code.

    Args:
        configuration: The yard's configuration.
        entries: The entries, in order.
        tell: Tells what became of the last one.
        again: Whether the person confirmed it, so that nothing is asked.
        only_say: Whether nothing is written down.
        as_json: Whether JSON is printed instead of sentences.
        doubt: A question that the command itself has about the first entry, "" for none.

    Raises:
        MisuseError: An entry is refused.
        UnavailableError: The disk fails, or the daemon does not answer.
    """
    doubt = "" if again else doubt
    if only_say:
        return say_ahead(configuration, entries, again=again, as_json=as_json, doubt=doubt)
    if doubt:
        return _asked(entries[0], doubt, as_json=as_json)
    if not again and (found := _asked_later(configuration, entries)):
        return _asked(*found, as_json=as_json)
    for number, entry in enumerate(entries, 1):
        changes = changes_ahead(configuration, entry, time.time_ns() // 1_000_000)
        taken = ask(configuration, entry.kind, entry.payload, again=again)
        if taken.question:
            return _asked(entry, taken.question, as_json=as_json)
        if number == len(entries):
            return tell(entry, taken, changes)
    return 0


def _asked_later(configuration: Configuration, entries: Sequence[Entry]) -> tuple[Entry, str] | None:
    """Return the right reading behind one that is to be withdrawn, and the question about it; None if none would be asked.

    It is asked first: else the old reading would be gone, and the right one not there.
    """
    if len(entries) < 2 or entries[0].kind is not EventKind.CORRECTION:
        return None
    now = time.time_ns() // 1_000_000
    for entry in entries[1:]:
        if question := foretell(configuration, entry, now, again=False).question:
            return entry, question
    return None


def _asked(entry: Entry, question: str, *, as_json: bool) -> int:
    if as_json:
        print_json({"at": None, "kind": entry.kind.value, "payload": entry.payload, "question": question})
    click.echo(f"Not written down yet. {question}\nIf that is right, enter it again with --again.", err=True)
    return 1
