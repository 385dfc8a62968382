"""`reload`: has the running daemon read its configuration again, and says whether it took it."""

import os
import signal
import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, configuration_path, json_option, load_configuration, print_json
from monitor.app.yard.taken_file import TakenFile, taken_file
from monitor.configuration import Configuration
from monitor.journal import holder
from monitor.model.errors import UnavailableError

ANSWER_S = 30.0
"""How long the daemon may take, seconds: it finishes a turn first, and may wait for a broker (our choice)."""

_LOOK_S = 0.1


@click.command()
@config_option
@json_option
def command(config_file: Path | None, as_json: bool) -> int:
    """Have the daemon read its configuration again; exit 1 if none runs or it keeps the old one.

    The file is checked first: a wrong one is not handed to the daemon.

    \b
    Example:
      heaptender reload
    """
    configuration, file = load_configuration(config_file), configuration_path(config_file)
    pid = holder(configuration.data)
    before = taken_file(configuration.data, pid)
    if pid is None or before is None:
        words = f"No daemon runs on {configuration.data}: `heaptender run` starts one, with this file."
        return _say(0, [words], as_json=as_json, running=False)
    if not Path(before.file).exists() or not file.samefile(before.file):
        words = f"The daemon on {configuration.data} reads another file, {before.file}, and has not been asked."
        return _say(0, [words], as_json=as_json)
    after = _answer(configuration, pid, before)
    if after.refused:
        return _say(after.at, [*after.refused, "The daemon keeps the old one."], as_json=as_json)
    return _say(after.at, [f"The daemon has read {file}; it is in force."], as_json=as_json, taken=True)


def _answer(configuration: Configuration, pid: int, before: TakenFile) -> TakenFile:
    try:
        os.kill(pid, signal.SIGHUP)
    except ProcessLookupError as fault:
        raise UnavailableError("The daemon has just ended; `heaptender run` starts it again.") from fault
    except PermissionError as fault:
        raise UnavailableError(
            "The daemon runs as another user, whom only the administrator may ask: sudo systemctl reload heaptender."
        ) from fault
    until = time.monotonic() + ANSWER_S
    while time.monotonic() < until:
        after = taken_file(configuration.data, pid)
        if after is not None and after.asked > before.asked:
            return after
        time.sleep(_LOOK_S)
    raise UnavailableError(f"The daemon has not answered for {ANSWER_S:.0f} s; its log says what it does.")


def _say(at: int, words: list[str], *, as_json: bool, running: bool = True, taken: bool = False) -> int:
    if as_json:
        from monitor.model.times import show_time  # noqa: PLC0415 (only for programs)

        read = show_time(at) if at else None
        print_json({"running": running, "taken": taken, "in_force_since": read, "words": words})
    else:
        click.echo("\n".join(words))
    return 0 if taken else 1
