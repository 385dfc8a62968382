"""`demo`: shows a made-up yard through a weekend."""

import logging
import signal
import tempfile
from contextlib import ExitStack
from pathlib import Path
from types import FrameType

import click

from monitor.app.console.progress_bar import progress_bar
from monitor.app.yard.effect_words import effect_words, local_time
from monitor.journal import Outcome
from monitor.model.effects import Effect, EffectKind, Occasion
from monitor.model.notice_values import NoticeValues
from monitor.model.settings import Settings
from monitor.model.words import Priority

INTRODUCTION = """\
Tern Hollow allotments, a made-up yard: three bays of stable litter, leaves and coffee grounds, and three worm bins, one
of them on a sunny wall. It is Friday afternoon in July and everybody goes home; the probes stay. What follows is simulated,
but goes line by line through a serial port into the real daemon. Messages are shown as they would have been sent.
Its log goes back to last September, all of it invented: loads of litter, leaves and grounds, a heap, castings, bags.
"""

KEPT = """\
Its folder lives on in July 2026: whatever `status` says there later of *how long ago*, and the time of what you log, goes by
today's clock.
"""


@click.command()
@click.option(
    "--seconds", type=click.FloatRange(5, 3600), default=60, show_default=True, help="Length of the weekend in seconds."
)
@click.option("--folder", type=click.Path(path_type=Path, file_okay=False), help="Keep configuration and journal here.")
@click.option("--seed", type=int, default=1, show_default=True, help="Seed of the made-up world.")
@click.option("--stay", is_flag=True, help="Go on after the weekend, until Ctrl-C.")
def command(seconds: float, folder: Path | None, seed: int, stay: bool) -> None:
    """Show a made-up yard through a hot July weekend, in about a minute.

    \b
    Examples:
      heaptender demo
      heaptender demo --folder my-demo     (then: heaptender status --config my-demo/heaptender.toml,
                                            heaptender certify --batch p3 --config my-demo/heaptender.toml,
                                            heaptender lots --config my-demo/heaptender.toml)
    """
    logging.basicConfig(level=logging.ERROR, format="%(message)s")
    from monitor.app.daemon.demo import Demo  # noqa: PLC0415 (so that --help stays quick)

    kept = folder is not None
    with ExitStack() as stack:
        if folder is None:
            folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="heaptender-demo-")))
        else:
            folder.mkdir(parents=True, exist_ok=True)
        printer = _Printer()
        demo = Demo(folder, seconds, printer.show, seed)
        printer.settings = demo.configuration.settings

        def end(signum: int, frame: FrameType | None) -> None:
            del signum, frame
            if demo.daemon is not None:
                demo.daemon.stop.set()
                demo.daemon.hub.wake()

        click.echo(INTRODUCTION)
        if kept:
            click.echo(KEPT)
        with progress_bar("Simulating the weeks before") as show:
            demo.prepare(show)
        signal.signal(signal.SIGINT, end)
        signal.signal(signal.SIGTERM, end)
        demo.opened = _tell_page
        demo.run(_monday if stay else None)
        if not stay:
            _monday(demo.away)


def _tell_page(address: str) -> None:
    click.echo(f"Watch it in a browser while it lasts: {address}\n" if address else "")


def _monday(away: str) -> None:
    click.echo("\n" + click.style("Monday morning.", bold=True) + "\n\n" + away + "\n")


class _Printer:
    """Prints the important effects of each commit; for the writer's thread alone."""

    def __init__(self) -> None:
        self.settings = Settings()
        self._sent: dict[str, str] = {}

    def show(self, outcome: Outcome) -> None:
        """Print the effects of one commit."""
        for effect in outcome.effects:
            line = self._line(effect)
            if line:
                click.echo(line)

    def _line(self, effect: Effect) -> str:
        draft = effect.draft
        if draft.kind in (EffectKind.PHASE, EffectKind.CONDITION):
            if draft.before is None:
                return ""
            return click.style(f"{local_time(effect.at, self.settings)}  {draft.why}", fg="green")
        if draft.kind is not EffectKind.NOTICE:
            return ""
        contact = self.settings.contacts.get(draft.after or "")
        name = contact.name if contact is not None else draft.after
        when = local_time(effect.at, self.settings)
        if draft.axis == Occasion.REPEAT:
            return click.style(f"{when}  Again to {name}: {draft.text.split('. ')[0]}.", dim=True)
        if draft.axis == Occasion.DIGEST and draft.text in self._sent.values():
            return click.style(f"{when}  The same digest to {name}.", dim=True)
        if draft.axis == Occasion.DIGEST:
            self._sent["digest"] = draft.text
            return click.style(effect_words(effect, self.settings), dim=True)
        return click.style(
            effect_words(effect, self.settings), bold=NoticeValues.of(draft.values).priority is Priority.HIGHEST
        )
