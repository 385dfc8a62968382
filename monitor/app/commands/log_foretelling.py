"""`--only-say`: says what entries would change and what would be asked about them, and writes nothing down."""

import time
from collections.abc import Sequence

import click

from monitor.app.console.harmless import harmless
from monitor.app.console.options import print_json
from monitor.app.entries.entries import Entry
from monitor.app.entries.foretelling import foretell
from monitor.app.yard.effect_words import local_time
from monitor.configuration import Configuration


def say_ahead(
    configuration: Configuration, entries: Sequence[Entry], *, again: bool, as_json: bool, doubt: str = ""
) -> int:
    """Print the outcome that entries would have, and return 1 if something would be asked, else 0.

    Args:
        configuration: The yard's configuration.
        entries: The entries, in order; each as if those before it were not there.
        again: Whether they would be confirmed, so that nothing is asked.
        as_json: Whether JSON is printed instead of sentences.
        doubt: A question of the command itself about the first entry, "" for none.

    Raises:
        MisuseError: An entry would be refused.
    """
    now, asked = time.time_ns() // 1_000_000, False
    for entry in entries:
        told = foretell(configuration, entry, now, again=again)
        questions, doubt = " ".join(filter(None, (doubt, told.question))), ""
        asked = asked or bool(questions)
        if as_json:
            print_json(
                {
                    "at": None,
                    "kind": entry.kind.value,
                    "payload": entry.payload,
                    "changes": told.changes,
                    "question": questions or None,
                }
            )
            continue
        said = f"{entry.words}, {local_time(entry.time, configuration.settings)}."
        question = [f"You would be asked: {questions}"] if questions else []
        changes = told.changes or "Nothing changes but the log."
        for line in (f"Not written down: {said}", changes, *question):
            click.echo(harmless(line))
    return 1 if asked else 0
