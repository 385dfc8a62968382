"""`lots`: makes lots out of harvests and heaps, says what is in one and who has it, and writes down what was given out."""

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from monitor.app.console.options import config_option, json_option, only_say_option, print_json
from monitor.model.errors import MisuseError
from monitor.model.work import WorkKind

if TYPE_CHECKING:
    from monitor.app.console.measures import Measures
    from monitor.app.entries.entries import Entry
    from monitor.app.loop.asking import Taken
    from monitor.app.stock import HeatsOfHeaps, OpenedMaterial
    from monitor.configuration import Configuration
    from monitor.material import MaterialRecord

_at = click.option("--at", metavar="TIME", help="When it was: 14:05, yesterday 18:00, or RFC 3339.")
_by = click.option("--by", metavar="NAME", help="Who did it.")
_note = click.option("--note", metavar="TEXT", help="Anything else.")
_again = click.option("--again", is_flag=True, help="Take the entry as it is, without asking.")


SHOWN = 20
"""How many lots are listed if not all are asked for: each is traced through the whole record."""


@click.group(invoke_without_command=True)
@click.option("--all", "every", is_flag=True, help="List all lots, not only the newest.")
@config_option
@json_option
@click.pass_context
def command(context: click.Context, every: bool, config_file: Path | None, as_json: bool) -> int:
    """List the lots of castings and compost, make one, give it out, and trace what is in it.

    Without a word, list the newest lots with what is left and what may be said of them.

    \b
    Examples:
      heaptender lots make h31/fines --by Ann
      heaptender lots test lot-b1-2026-11-05 "bean test" passed
      heaptender lots give lot-b1-2026-11-05 "20 lb" --to "the school garden"
      heaptender lots trace lot-b1-2026-11-05
      heaptender lots recall d14
      heaptender lots label lot-b1-2026-11-05 --svg label.svg
    """
    if context.invoked_subcommand is not None:
        return 0
    with _opened(config_file) as yard:
        from monitor.app.stock import list_lines, trace_json  # noqa: PLC0415 (so that --help stays quick)

        lots = yard.lots()
        older = 0 if every else max(0, len(lots) - SHOWN)
        # A list in words says nothing of each input.
        sheets = [yard.sheet(lot.id, whole=as_json) for lot in lots[older:]]
        if as_json:
            print_json([trace_json(one, yard.record) for one in sheets])
        else:
            yard.say(list_lines(sheets, yard.configuration.settings, yard.measures, yard.instant(None)))
            if older:
                click.echo(f"{older} older ones are not listed; `heaptender lots --all` lists them.")
    return 0


@command.command()
@click.argument("sources", nargs=-1, required=True)
@click.option("--amount", metavar="N", help="How much of a single source: 30 kg. Otherwise all that is left of it.")
@click.option(
    "--moisture", metavar="PERCENT", help="Its moisture now, % of wet mass: what is left is counted by dry matter."
)
@_at
@_by
@_note
@_again
@only_say_option
@config_option
@json_option
def make(sources: tuple[str, ...], config_file: Path | None, as_json: bool, only_say: bool, **given: Any) -> int:
    """Make a lot out of harvests (h31), their fractions (h31/fines), or heaps, which are named as the record names them."""
    from monitor.app.stock import Making, doubts_of_making, lot_id, source_named  # noqa: PLC0415

    if given["amount"] and len(sources) > 1:
        raise MisuseError("--amount goes with a single source; of several, all that is left goes into the lot.")
    if given["moisture"] and len(sources) > 1:
        raise MisuseError("--moisture goes with a single source; of several, nobody knows of which it is.")
    with _opened(config_file) as yard:
        at = yard.instant(given["at"])
        nodes = [source_named(yard.record, one, yard.configuration.settings) for one in sources]
        id_ = lot_id(yard.record, nodes, at, yard.configuration.settings)
        making = Making(nodes, at, given["amount"] or "", given["moisture"] or "")
        doubt = doubts_of_making(yard.record, making, yard.heats.missing, yard.configuration, yard.measures)
    told = {**given, "what": ", ".join(one.id for one in nodes), "lot": id_}
    return _write_down(yard.configuration, WorkKind.LOT, told, doubt, only_say=only_say, as_json=as_json)


@command.command()
@click.argument("lot")
@click.argument("amount")
@click.option("--to", "receiver", required=True, metavar="WHOM", help="Who got it.")
@click.option("--price", metavar="PRICE", help="What they paid, such as 12 or 12.50 EUR.")
@_at
@_by
@_note
@_again
@only_say_option
@config_option
@json_option
def give(lot: str, amount: str, config_file: Path | None, as_json: bool, only_say: bool, **given: Any) -> int:
    """Write down that somebody got some of a lot."""
    from monitor.app.stock import doubts_of_giving  # noqa: PLC0415

    with _opened(config_file) as yard:
        sheet = yard.sheet(lot)
        at = yard.instant(given["at"])
        doubt = doubts_of_giving(sheet, amount, given["receiver"], at, yard.configuration, yard.measures)
    told = {**given, "amount": amount, "lot": sheet.node.id}
    return _write_down(yard.configuration, WorkKind.GIVEN, told, doubt, only_say=only_say, as_json=as_json)


@command.command()
@click.argument("lot")
@click.argument("test")
@click.argument("result", type=click.Choice(["passed", "failed"]))
@_at
@_by
@_note
@_again
@only_say_option
@config_option
@json_option
def test(
    lot: str, test: str, result: str, config_file: Path | None, as_json: bool, only_say: bool, **given: Any
) -> int:
    """Write down the result of a test of a lot, such as a bean test against weed killer."""
    from monitor.app.stock import doubts_of_test  # noqa: PLC0415

    with _opened(config_file) as yard:
        sheet = yard.sheet(lot)
        doubt = doubts_of_test(test, yard.configuration.lot_tests)
    told = {**given, "lot": sheet.node.id, "test": test, "result": result}
    return _write_down(yard.configuration, WorkKind.TESTED, told, doubt, only_say=only_say, as_json=as_json)


@command.command()
@click.argument("lot")
@config_option
@json_option
def trace(lot: str, config_file: Path | None, as_json: bool) -> int:
    """Show everything that went into a lot or may have, with heat and risks, and who has some of it."""
    from monitor.app.stock import (  # noqa: PLC0415
        duration_json,
        duration_lines,
        durations_of,
        trace_json,
        trace_lines,
    )

    with _opened(config_file) as yard:
        sheet, configuration = yard.sheet(lot), yard.configuration
        found = durations_of(sheet, yard.record, yard.opened.view, configuration)
        if as_json:
            print_json(trace_json(sheet, yard.record) | {"duration": duration_json(found, configuration)})
        else:
            yard.say(trace_lines(sheet, yard.record, configuration.settings, yard.measures, yard.instant(None)))
            yard.say(duration_lines(found, configuration))
    return 0


@command.command()
@click.argument("id_", metavar="ID")
@click.option("--since", metavar="TIME", help="Only what left it from then on.")
@config_option
@json_option
def recall(id_: str, since: str | None, config_file: Path | None, as_json: bool) -> int:
    """Show every lot that has, or may have, something of a delivery, heap, bed or harvest, and the people who got it.

    A bin's id means all that ever came out of that bin. Exit 1 if any lot has something of it.
    """
    from monitor.app.stock import nodes_named, recall_json, recall_lines, recalled  # noqa: PLC0415

    with _opened(config_file) as yard:
        nodes = nodes_named(yard.record, id_, yard.configuration.settings)
        lots, others = recalled(yard.record, nodes, yard.instant(since) if since else None)
        found = [(one, yard.sheet(one.node.id)) for one in lots]
        if as_json:
            print_json(recall_json(found))
        else:
            yard.say(recall_lines(nodes, found, others, yard.configuration.settings, yard.measures, yard.instant(None)))
    return 1 if found else 0


@command.command()
@click.argument("lot")
@click.option(
    "--svg", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path), help="Draw it into a file, 96 by 66 mm."
)
@click.option(
    "--for-all", is_flag=True, help="Let its code open the lot's sheet for anybody, without names, for five years."
)
@config_option
def label(lot: str, svg: Path | None, config_file: Path | None, *, for_all: bool) -> int:
    """Print the words of a lot's label, as they follow from the record; with --svg, draw it with a code for its sheet."""
    from dataclasses import replace  # noqa: PLC0415

    from monitor.app.stock import label_lines, label_of  # noqa: PLC0415
    from monitor.drawing import bag_label  # noqa: PLC0415

    with _opened(config_file) as yard:
        sheet, settings = yard.sheet(lot), yard.configuration.settings
        drawn = label_of(sheet, settings, yard.measures, yard.instant(None))
        address = _address(yard.configuration, sheet.node.id, sheet.made.time, for_all=for_all)
        if svg is None:
            yard.say(label_lines(drawn, address))
        else:
            from monitor.page import qr_rows  # noqa: PLC0415

            code = qr_rows(address) if address else ()
            try:
                svg.write_text(bag_label(replace(drawn, code=code)), encoding="utf-8")
            except OSError as fault:
                raise MisuseError(f"{svg} cannot be written: {fault.strerror or fault}.") from fault
            click.echo(f"{svg}: the label of {sheet.node.id}, 96 by 66 mm.")
    if not address:
        click.echo(
            "It has no code, since no address is set by which phones reach the page: set page.link in the configuration.",
            err=True,
        )
    return 0


def _address(configuration: "Configuration", lot: str, made: int, *, for_all: bool) -> str:
    """Return the address that a label's code opens; "" if phones cannot reach the page."""
    from monitor.page import bag_address, leads_here, load_key, lot_address  # noqa: PLC0415

    page = configuration.page
    if not page.on or leads_here(page.link):
        return ""
    return bag_address(page.link, load_key(configuration.data), lot, made) if for_all else lot_address(page.link, lot)


@dataclass(frozen=True, slots=True)
class _Yard:
    """The opened record, with all that the sheets of lots need."""

    configuration: "Configuration"
    opened: "OpenedMaterial"
    heats: "HeatsOfHeaps"
    measures: "Measures"
    instant: Callable[[str | None], int]

    @property
    def record(self) -> "MaterialRecord":
        return self.opened.record

    def lots(self) -> list[Any]:
        from monitor.material import NodeKind  # noqa: PLC0415

        return self.record.graph.nodes(NodeKind.LOT)

    def sheet(self, name: str, *, whole: bool = True) -> Any:
        from monitor.app.stock import lot_named, lot_sheet  # noqa: PLC0415

        wanted, lot = self.configuration.lot_tests, lot_named(self.record, name)
        return lot_sheet(self.record, lot, self.heats, wanted, whole=whole)

    def say(self, lines: Iterator[str]) -> None:
        from monitor.app.console.harmless import harmless  # noqa: PLC0415

        for line in lines:
            click.echo(harmless(line))


@contextmanager
def _opened(config_file: Path | None) -> Iterator[_Yard]:
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.console.time_words import parse_when  # noqa: PLC0415
    from monitor.app.stock import HeatsOfHeaps, opened_material  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    now = time.time_ns() // 1_000_000
    zone = configuration.settings.site.time_zone
    with opened_material(configuration) as opened:
        yield _Yard(
            configuration,
            opened,
            HeatsOfHeaps(lambda: opened.view, configuration, now),
            Measures(is_us(configuration.settings), configuration.containers),
            lambda text: now if text is None else parse_when(text, now, zone, "--at"),
        )


def _write_down(
    configuration: "Configuration",
    kind: WorkKind,
    given: Mapping[str, Any],
    doubt: str,
    *,
    only_say: bool,
    as_json: bool,
) -> int:
    from monitor.app.commands.putting_down import put_down  # noqa: PLC0415
    from monitor.app.stock import entry_of_lot  # noqa: PLC0415

    def tell(entry: "Entry", taken: "Taken", changes: str) -> int:
        return _tell(configuration, entry, taken, changes, lot=given["lot"], as_json=as_json)

    entry = entry_of_lot(configuration, kind, given, time.time_ns() // 1_000_000)
    again = bool(given["again"])
    return put_down(configuration, [entry], tell, again=again, only_say=only_say, as_json=as_json, doubt=doubt)


def _tell(
    configuration: "Configuration", entry: "Entry", taken: "Taken", changes: str, *, lot: str, as_json: bool
) -> int:
    from monitor.app.console.harmless import harmless  # noqa: PLC0415
    from monitor.app.entries.entry_log import entry_log, number_of  # noqa: PLC0415
    from monitor.journal import open_reader  # noqa: PLC0415

    if taken.at is None:
        click.echo("Not written down: that was written down already.", err=True)
        return 1
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        number = number_of(entry_log(store, [*settings.piles, *settings.bins]), taken.at)
    if as_json:
        print_json({"number": number, "lot": lot})
    else:
        undo = f"(To take it back: heaptender log undo {number}.)"
        click.echo(harmless(" ".join(filter(None, (f"Written down as {number}: {entry.words}.", changes, undo)))))
    return 0
