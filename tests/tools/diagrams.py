"""Draws the state diagrams and tables of the documentation from the declarations that the program runs by.

    python -m tests.tools.diagrams docs/*.md

A page holds each diagram between two marker lines; what stands between them is replaced. Pure text (mermaid), so that a
reader of the raw page sees the table, too. A test compares page and tables.
"""

import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from monitor.alarms import TOLD_AS
from monitor.alarms.states import BY_OWN_END, RESTING, STILL_MUTED, Signal
from monitor.alarms.states import TRANSITIONS as ALARM_TRANSITIONS
from monitor.app.entries.entries import OPTIONS
from monitor.engine.asking.plausible import COMPARISONS
from monitor.model.alarm_kinds import Alarm
from monitor.model.payload_forms import PAYLOAD_FORMS
from monitor.model.words import AlarmState, Phase
from monitor.model.work_entry import ALWAYS, fields_that_go_with
from monitor.model.work_kinds import Where, kinds
from monitor.notices import compose
from monitor.piles.changes import TRANSITIONS as PHASE_TRANSITIONS
from tests.tools.schemas.every_schema import table as json_schemas
from tests.worlds.notice_cases import CASES, yard

_BLOCK = re.compile(r"(<!-- diagram: (\w+) -->\n).*?(<!-- end of diagram -->)", re.DOTALL)


def phases() -> str:
    """Return the diagram of a batch's phases."""
    lines = ["stateDiagram-v2"]
    lines += [f'  state "{phase.value}" as {_name(phase)}' for phase in Phase]
    lines.append(f"  [*] --> {_name(Phase.HEATING)}: built")
    lines += [f"  {_name(row.before)} --> {_name(row.after)}: {_words(row.reason.value)}" for row in PHASE_TRANSITIONS]
    return "\n".join(lines)


def phase_table() -> str:
    """Return what each arrow of the phases' diagram asks for, as a table."""
    lines = ["| from | to | when | reason in effects |", "|---|---|---|---|"]
    lines += [
        f"| {row.before.value} | {row.after.value} | {row.signal.value} | `{row.reason.value}` |"
        for row in PHASE_TRANSITIONS
    ]
    return "\n".join(lines)


def alarms() -> str:
    """Return the diagram of an alarm's states."""
    lines = ["stateDiagram-v2"]
    lines += [f'  state "{state.value}" as {_name(state)}' for state in AlarmState]
    lines.append(f"  [*] --> {_name(AlarmState.NORMAL)}")
    for (before, signal), after in ALARM_TRANSITIONS.items():
        if signal not in BY_OWN_END:
            lines.append(f"  {_name(before)} --> {_name(after)}: {signal.value}")
            continue
        lines.append(f"  {_name(before)} --> {_name(after)}: {signal.value}, still on")
        if signal is not Signal.UNMUTE:
            lines.append(f"  {_name(before)} --> {_name(STILL_MUTED)}: {signal.value}, still on and muted")
        lines.append(f"  {_name(before)} --> {_name(RESTING)}: {signal.value}, no longer on")
    return "\n".join(lines)


def alarm_table() -> str:
    """Return the standard's states and what people read, as a table."""
    lines = ["| state (in effects) | what people read |", "|---|---|"]
    lines += [f"| {state.value} | {TOLD_AS[state]} |" for state in AlarmState]
    return "\n".join(lines)


def alarm_kinds() -> str:
    """Return every alarm: its id, what people call it, how soon somebody must act, when it may wake somebody."""
    lines = ["| alarm | what people call it | how soon | in quiet hours | says it all for |", "|---|---|---|---|---|"]
    for alarm in Alarm:
        kind = alarm.kind
        soon = kind.priority.name.lower()
        if kind.at_first is not None:
            soon = f"{kind.at_first.name.lower()}, then {soon}"
        night = "comes through" if kind.wakes else "comes through until midnight" if kind.evening else "waits"
        covers = ", ".join(f"`{one}`" for one in kind.covers)
        lines.append(f"| `{alarm}` | {kind.name} | {soon} | {night} | {covers} |")
    return "\n".join(lines)


def work_kinds() -> str:
    """Return every kind of work: the word that is typed, where it is done, what goes with it."""
    where = {Where.PILE: "a heap", Where.BIN: "a bin", Where.AIR: "the air", Where.YARD: "the yard"}
    lines = ["| what | where | what may go with it |", "|---|---|---|"]
    for row in kinds():
        places = ", ".join(words for flag, words in where.items() if flag in row.where)
        given = [name for name in fields_that_go_with(row.kind) if name not in (*ALWAYS, "measure")]
        options = ", ".join(f"`--{OPTIONS.get(name, name)}`" for name in given)
        lines.append(f"| `{row.word}` | {places} | {options} |")
    return "\n".join(lines)


def comparisons() -> str:
    """Return every comparison of a figure with what the yard knows."""
    lines = ["| figure | compared with | of |", "|---|---|---|"]
    for one in COMPARISONS:
        words = ", ".join(f"`{row.command or row.word}`" for row in kinds() if row.kind in one.kinds)
        lines.append(f"| {one.figure} | {one.beside} | {words} |")
    return "\n".join(lines)


def payload_forms() -> str:
    """Return every form of payloads, and where the probe's address stands."""
    lines = ["| `form` | the payload | which probe it is of |", "|---|---|---|"]
    for form in PAYLOAD_FORMS.values():
        probe = "the pattern of the topic"
        if form.names_probes:
            probe = "the payload says it"
        elif form.pointers:
            probe += ", or the pointer `probe`"
        lines.append(f'| `"{form.word}"` | {form.title} | {probe} |')
    return "\n".join(lines)


def message_texts() -> str:
    """Return every message of the golden table in words, each with its act in short, to be read aloud."""
    lines = []
    for name, facts in CASES.items():
        message = compose(name.split(" ")[0], facts, yard())
        lines.append(f"- `{name}`: {message.text}" + (f" *In short: {message.act}*" if message.act else ""))
    return "\n".join(lines)


DIAGRAMS: dict[str, Callable[[], str]] = {
    "phases": lambda: f"```mermaid\n{phases()}\n```",
    "phase_table": phase_table,
    "alarms": lambda: f"```mermaid\n{alarms()}\n```",
    "alarm_table": alarm_table,
    "alarm_kinds": alarm_kinds,
    "work_kinds": work_kinds,
    "comparisons": comparisons,
    "payload_forms": payload_forms,
    "message_texts": message_texts,
    "json_schemas": json_schemas,
}
"""What may stand in a page, by the name in its marker."""
PAGES = sorted(Path(__file__).parents[2].glob("docs/*.md"))


def drawn(page: str) -> str:
    """Return a page with every diagram as the tables have it.

    Raises:
        KeyError: A marker names no diagram.
    """
    return _BLOCK.sub(lambda found: f"{found[1]}{DIAGRAMS[found[2]]()}\n{found[3]}", page)


def _name(state: Phase | AlarmState) -> str:
    return state.value.replace(" ", "_")


def _words(reason: str) -> str:
    # A colon or semicolon would end a label.
    return reason.replace(":", ",").replace(";", ",")


def main(arguments: Sequence[str]) -> int:
    """Draw the diagrams of the pages that are named anew."""
    if not arguments:
        sys.stderr.write("Usage: python -m tests.tools.diagrams PAGE.md…\n")
        return 2
    for name in arguments:
        path = Path(name)
        path.write_text(drawn(path.read_text(encoding="utf-8")), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
