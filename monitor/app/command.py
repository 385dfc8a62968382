"""The command line: finds a command by name, imports only that command, and turns faults into one sentence.

Exit codes: 0 success, 1 the answer is no, 2 misuse, 3 it could not be done. Never a traceback, unless the environment
variable HEAPTENDER_DEBUG asks for it.
"""

import gc
import importlib
import os
import signal
import sys

import click

from monitor.app.console.harmless import harmless
from monitor.model.errors import MisuseError, MonitorError

_NAME = "heaptender"
_COMPLETE = "_HEAPTENDER_COMPLETE"
"""The variable by which a shell asks for completions (click's name for it); it calls without arguments then."""
_SERVING = ("run", "demo")
_SEARCHED_AFTER = 50_000
"""Objects made before garbage is searched for (our choice). A command that ends soon makes little of it, and searching again
and again while the program is imported takes an eighth of that time; daemons keep Python's own way."""

SUMMARIES: dict[str, str] = {
    "demo": "Show a made-up yard through a weekend, in about a minute.",
    "run": "Watch the yard: run the daemon.",
    "check": "Read the configuration, try each connection, send a test notice if asked.",
    "restore": "Put a backup in place of the journal, and say what it lacks.",
    "pack": "Put everything of the yard into one file, for another computer.",
    "unpack": "Put a packed yard in place on this computer.",
    "reload": "Have the running daemon read its configuration again.",
    "status": "Show the state of the daemon, its sources and its probes.",
    "listen": "Show what arrives, raw and understood, for setting up a node.",
    "replay": "Run a recording through the engine and print what it would have decided.",
    "tune": "Try other thresholds on a recording, and say which would have served best.",
    "label": "Label a stretch of the past as trouble or fine, for tuning.",
    "certify": "Judge a batch by a rule of time and temperature, and write a certificate.",
    "verify": "Check a certificate.",
    "rules": "List the rules and their sources.",
    "recipe": "Work out a mix: how much of each material, and how much water.",
    "diary": "List what falls due, why, and how long it can wait.",
    "bed": "Show the depth and the worms of each bed, and what it needs next.",
    "feeding": "Plan a week's food for each worm bed.",
    "harvest": "Show what each harvest yielded, and what goes back where.",
    "stock": "Show what material the yard has, and what spoils first.",
    "lots": "List lots of castings and compost, trace what is in one, and who has some of it.",
    "report": "Sum up a month or a season: what came in, what became of it, who got it.",
    "log": "Write down a piece of work, a hand reading, a probe in or out, or an answer to an alarm.",
    "export": "Write the record out as files.",
    "import": "Take files into the record.",
    "password": "Make the hash of a password for the page.",
}


class _Commands(click.Group):
    """Commands that are imported only when they are called or their own help is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click's signature)
        return list(SUMMARIES)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        if cmd_name not in SUMMARIES:
            return None
        module = importlib.import_module(f"monitor.app.commands.{cmd_name}_command")
        command = module.command
        if not isinstance(command, click.Command):
            raise TypeError(f"monitor.app.commands.{cmd_name}_command.command is not a command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Commands"):
            formatter.write_dl(list(SUMMARIES.items()))


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="heaptender", message="heaptender %(version)s")
def heaptender() -> None:
    """Tend hot-compost piles and worm bins when nobody is there.

    \b
    Example: see it work, then watch your own yard
      heaptender demo
      heaptender run --config heaptender.toml
    """


def _one_line(fault: click.ClickException) -> str:
    """Return click's complaint about a command as one line, with a pointer to the command's help."""
    said = " ".join(fault.format_message().split())
    called = f"{_NAME} {sys.argv[1]}" if sys.argv[1] in SUMMARIES else _NAME
    return f"{said.rstrip('.')}{'' if said.endswith('?') else ';'} `{called} --help` says what it takes."


def _called() -> int:
    """Run the command that was called and return its exit code; without arguments, show the list of commands."""
    if len(sys.argv) == 1 and _COMPLETE not in os.environ:
        with heaptender.make_context(_NAME, [], resilient_parsing=True) as context:
            click.echo(context.get_help(), err=True)
        return 2
    if "".join(sys.argv[1:2]) not in _SERVING:
        gc.set_threshold(_SEARCHED_AFTER)
    outcome = heaptender.main(prog_name=_NAME, standalone_mode=False)
    return outcome if isinstance(outcome, int) else 0


def main() -> None:
    """Run a command and exit with its code."""
    if sys.argv[1:2] == ["run"] and hasattr(signal, "SIGHUP"):
        # The signal asks a daemon to read its file again; a daemon that is still starting must not end by it.
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        sys.exit(_called())
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except (click.exceptions.Abort, KeyboardInterrupt):
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except click.ClickException as fault:
        click.echo(_one_line(fault), err=True)
        sys.exit(2)
    except MonitorError as fault:
        # A sentence may quote a file of somebody else's; each line of it is shown, and none obeyed.
        click.echo("\n".join(map(harmless, str(fault).split("\n"))), err=True)
        sys.exit(2 if isinstance(fault, MisuseError) else 3)
    except BrokenPipeError:
        # The reader of our output has gone (`| head`), which is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except OSError as fault:
        where = f" ({fault.filename})" if fault.filename else ""
        click.echo(f"It could not be done: {fault.strerror or fault}{where}.", err=True)
        sys.exit(3)
    except Exception as fault:
        if os.environ.get("HEAPTENDER_DEBUG"):
            raise
        click.echo(
            f"Heaptender itself is at fault ({type(fault).__name__}: {harmless(str(fault))}). What was stored is safe. "
            "Set HEAPTENDER_DEBUG=1 and try again to see where, and report that.",
            err=True,
        )
        sys.exit(3)
