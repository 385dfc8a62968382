"""Draws the state diagrams of a page of the documentation from the tables that the program runs by.

    python -m tests.tools.diagrams docs/architecture.md

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
from monitor.model.words import AlarmState, Phase
from monitor.piles.changes import TRANSITIONS as PHASE_TRANSITIONS

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


DIAGRAMS: dict[str, Callable[[], str]] = {
    "phases": lambda: f"```mermaid\n{phases()}\n```",
    "phase_table": phase_table,
    "alarms": lambda: f"```mermaid\n{alarms()}\n```",
    "alarm_table": alarm_table,
}
"""What may stand in a page, by the name in its marker."""


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
