"""`certify`: holds a batch against a rule, and writes a certificate."""

import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from monitor.app.console.options import config_option, json_option, load_configuration, print_json
from monitor.app.console.sheet_options import sheet_forms, sheet_options
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.recordings import SheetForms

if TYPE_CHECKING:
    from monitor.app.cases import Asked, KnownRule
    from monitor.certificate import Case

_FILES_ONLY = ("work", "pile", "by_hand", "leave_out")
_SHOWN = 10
"""The most unreadable lines that are listed one by one."""


@click.command()
@click.option("--batch", metavar="B", help="A batch of the journal; the id of a pile means its newest batch.")
@click.option(
    "--readings", multiple=True, type=click.Path(path_type=Path), help="Readings in CSV; no journal is needed."
)
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV, with --readings.")
@click.option("--pile", metavar="ID", help="The pile, as the work log calls it, with --readings.")
@click.option("--probes", metavar="A,B,C", help="The probes in the core; for a batch, all of its core probes.")
@click.option("--by-hand", is_flag=True, help="The readings were taken with a hand thermometer, with --readings.")
@click.option(
    "--leave-out", is_flag=True, help="Leave out lines that cannot be read and might say anything; page 1 then says so."
)
@click.option("--rule", metavar="RULE", help="The rule's id (`heaptender rules`); for a batch, its own.")
@click.option("--rule-file", type=click.Path(path_type=Path), help="A rule file of your own.")
@click.option("--method", metavar="METHOD", help="passive, turned, aerated-static or in-vessel.")
@click.option("--from", "start", metavar="TIME", help="Start of the record; else the first accepted reading.")
@click.option("--to", "end", metavar="TIME", help="End of the record; else the last accepted reading.")
@click.option(
    "--as-of",
    metavar="TIME",
    help="The instant of the verdict; else the batch's end, or now. The head names what came after it.",
)
@click.option(
    "--max-gap", metavar="1h", help="The longest gap that a straight line may cross; else 2h, or the pile's own."
)
@click.option(
    "--hand-gap",
    metavar="26h",
    help="The longest time between two rounds by hand that a line may cross; else the pile's own.",
)
@click.option("--basis", type=click.Choice(["coldest", "mean", "each"]), default="coldest", show_default=True,
              help="How several probes are judged.")  # fmt: skip
@click.option("--guard", metavar="0.5", help="Tighten the limits by this many degrees Celsius (or 1degF).")
@click.option("--smoothing", metavar="30m", help="Judge a running mean over this span; both verdicts are shown.")
@click.option("--length", metavar="12m", help="Length of the pile, for the number of probes that a rule asks for.")
@click.option("--volume", metavar="8m3", help="Volume of the pile, for the same.")
@click.option("--declare", multiple=True, metavar="KEY=NAME", help="NAME declares that a condition was kept.")
@click.option("--confirmed-by", metavar="NAME", help="NAME compared an unchecked rule's figures with its current text.")
@click.option("--feedstocks", metavar="TEXT", help="What the batch is made of, if the log does not say.")
@click.option("--quantity", metavar="TEXT", help="How much of it, if the log does not say.")
@click.option("--size", metavar="TEXT", help="Shape and size of the pile, in words.")
@click.option("--site", metavar="NAME", help="Name of the yard, if the configuration does not say.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the signed certificate into this PDF.")
@click.option("--key-folder", type=click.Path(path_type=Path), help="Folder of the signing key.")
@click.option("--new-key", is_flag=True, help="Make a new signing key first.")
@sheet_options
@config_option
@json_option
def command(config_file: Path | None, as_json: bool, **given: Any) -> int:
    """Judge a batch by a rule of time and temperature, and write a certificate.

    Ends with 0 if the rule is met, 1 if it is not met or not proven.

    \b
    From the journal:
      heaptender certify --batch p1 --out bay1.pdf
      heaptender certify --batch p1-2026-07-04 --rule us-503-pfrp-windrow

    \b
    From files, without any configuration:
      heaptender certify --readings bay1.csv --work work.csv --rule us-112-54-turned \\
        --pile p1 --probes a,b,c --out bay1.pdf
      heaptender certify --readings dial.csv --rule backyard-130f-3d --pile heap --by-hand \\
        --time-zone Europe/Berlin --dates day-first --column value=Temp \\
        --fill probe=dial --fill quantity=temperature --fill unit=C

    \b
    What else a rule asks for (`heaptender rules RULE` names the keys) can be declared:
      heaptender certify --batch p1 --declare curing="Ann Example" --length 12m
    """
    batch, readings = given["batch"], given["readings"]
    if given["new_key"] and not batch and not readings:
        return _new_key(_configuration(config_file, needed=given["key_folder"] is None), given)
    if bool(batch) == bool(readings):
        raise MisuseError(
            "Say what is to be certified: a batch (--batch p1), or CSV files (--readings R.csv --pile p1)."
        )
    for name in _FILES_ONLY:
        if batch and given[name]:
            raise MisuseError(
                f"--{name.replace('_', '-')} goes with --readings; a batch of the journal brings its own."
            )
    if given["rule"] and given["rule_file"]:
        raise MisuseError("Name one rule, with --rule or with --rule-file.")
    configuration = _configuration(config_file, needed=bool(batch))
    asked = _asked(configuration, given)
    if batch:
        return _judge(_of_batch(configuration, batch, asked, given), [], configuration, given, as_json=as_json)
    case, left_out = _of_files(configuration, asked, given)
    return _judge(case, left_out, configuration, given, as_json=as_json)


def _configuration(config_file: Path | None, *, needed: bool) -> Configuration | None:
    return load_configuration(config_file) if needed or config_file is not None else None


def _asked(configuration: Configuration | None, given: dict[str, Any]) -> "Asked":
    from monitor.app.cases import asked  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.console.time_words import parse_when  # noqa: PLC0415
    from monitor.proof.holdset import HoldBasis  # noqa: PLC0415

    now = time.time_ns() // 1_000_000
    zone = configuration.settings.site.time_zone if configuration is not None else given["time_zone"] or "UTC"

    def instant(text: str | None, option: str) -> int | None:
        return None if text is None else parse_when(text, now, zone, option)

    sizes: tuple[tuple[str, Callable[[str, str], int]], ...] = (
        ("length", asked.length_of),
        ("volume", asked.volume_of),
    )
    return asked.Asked(
        now=now,
        probes=asked.names_of(given["probes"]),
        method=asked.method_of(given["method"]),
        basis=HoldBasis(given["basis"]),
        max_gap_ms=asked.duration_of(given["max_gap"], "--max-gap"),
        hand_gap_ms=asked.duration_of(given["hand_gap"], "--hand-gap"),
        guard_milli_k=asked.difference_of(given["guard"], "--guard"),
        smoothing_ms=asked.duration_of(given["smoothing"], "--smoothing") or 0,
        start=instant(given["start"], "--from"),
        end=instant(given["end"], "--to"),
        as_of=instant(given["as_of"], "--as-of"),
        declared=asked.declared_of(given["declare"]),
        measures={name: read(given[name], f"--{name}") for name, read in sizes if given[name]},
        confirmed_by=(given["confirmed_by"] or "").strip(),
        feedstocks=given["feedstocks"] or "",
        quantity=given["quantity"] or "",
        size=given["size"] or "",
        site=given["site"] or "",
    )


def _rule(
    configuration: Configuration | None, given: dict[str, Any], own: str = "", kept: dict[str, str] | None = None
) -> "KnownRule":
    from monitor.app.cases import known_rule, rule_from_file  # noqa: PLC0415

    if given["rule_file"] is not None:
        return rule_from_file(given["rule_file"], configuration)
    if not (given["rule"] or own):
        raise MisuseError("Name the rule, with --rule (`heaptender rules` lists them) or --rule-file.")
    return known_rule(given["rule"] or own, configuration, kept)


def _of_batch(configuration: Configuration | None, name: str, asked: "Asked", given: dict[str, Any]) -> "Case":
    from monitor.app.cases.from_store import batch_named, rule_of_batch, store_case  # noqa: PLC0415
    from monitor.app.cases.soundness import refuse_damaged  # noqa: PLC0415
    from monitor.app.stock import HeatsOfHeaps, read_material, with_inputs  # noqa: PLC0415
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415

    assert configuration is not None
    with yard_view(configuration) as view:
        batch = batch_named(view, name)
        own, kept = rule_of_batch(view, batch)
        case = store_case(view, batch, _rule(configuration, given, own, kept), asked)
        refuse_damaged(view.store, case)
        record = read_material(view.store, configuration, lambda: view.engine)
        return with_inputs(case, record, HeatsOfHeaps(lambda: view, configuration, asked.now))


def _of_files(
    configuration: Configuration | None, asked: "Asked", given: dict[str, Any]
) -> "tuple[Case, list[dict[str, Any]]]":
    from monitor.app.cases.from_files import file_case  # noqa: PLC0415
    from monitor.app.cases.read_files import Files  # noqa: PLC0415

    if not given["pile"]:
        raise MisuseError("Name the pile, with --pile, as the work log calls it.")
    known = _rule(configuration, given)
    files = Files(
        given["readings"], given["work"], given["pile"], by_hand=given["by_hand"], forms=_forms(configuration, given),
        leave_out=given["leave_out"],
    )  # fmt: skip
    case, problems = file_case(files, known, asked, configuration)
    for problem in problems[:_SHOWN]:
        click.echo(str(problem), err=True)
    if len(problems) > _SHOWN:
        click.echo(f"... and {len(problems) - _SHOWN} more lines that cannot be read.", err=True)
    return case, [{"file": one.file, "line": one.line, "why": one.text} for one in problems]


def _forms(configuration: Configuration | None, given: dict[str, Any]) -> SheetForms:
    forms = sheet_forms(given)
    return forms if configuration is None else forms.in_zone(configuration.settings.site.time_zone)


def _judge(
    case: "Case",
    left_out: list[dict[str, Any]],
    configuration: Configuration | None,
    given: dict[str, Any],
    *,
    as_json: bool,
) -> int:
    from monitor.app.cases.verdict_words import verdict_json, verdict_lines  # noqa: PLC0415
    from monitor.app.yard.certificate_files import note_elsewhere  # noqa: PLC0415
    from monitor.certificate import judge_case  # noqa: PLC0415

    judgement = judge_case(case)
    written = _write(case, configuration, given) if given["out"] is not None else ""
    own = given["batch"] and not (given["rule"] or given["rule_file"])
    if written and own and judgement.met and configuration is not None:
        note_elsewhere(configuration.data, case.batch, time.time_ns() // 1_000_000, given["out"])
    if as_json:
        print_json(verdict_json(case, judgement, left_out))
    else:
        for line in verdict_lines(case, judgement):
            click.echo(line)
        click.echo(written or "No certificate was written; --out FILE.pdf writes one.")
    return 0 if judgement.met else 1


def _write(case: "Case", configuration: Configuration | None, given: dict[str, Any]) -> str:
    from monitor.app.cases.csv_format import ReadingsCsv  # noqa: PLC0415
    from monitor.app.console.whole_files import whole_file  # noqa: PLC0415
    from monitor.certificate import issue, open_key, rotate_key  # noqa: PLC0415

    folder = _key_folder(configuration, given)
    now = time.time_ns() // 1_000_000
    opened = rotate_key if given["new_key"] else open_key
    key = opened(folder, case.site or "Yard", now)
    pdf = issue(case, now, key, ReadingsCsv())
    out: Path = given["out"]
    with whole_file(out) as raw:
        raw.write(pdf)
    return (
        f"The certificate is in {out}, signed with key {key.key_id[:16]}. Who wants to check it needs the file, "
        f"`heaptender verify`, and your public key from {folder}."
    )


def _key_folder(configuration: Configuration | None, given: dict[str, Any]) -> Path:
    """Return the folder of the signing key: the one given, else the one beside the journal, else one in the user's settings."""
    folder: Path | None = given["key_folder"]
    if folder is not None:
        return folder
    if configuration is not None:
        return configuration.data / "keys"
    home = os.environ.get("XDG_CONFIG_HOME")
    return (Path(home) if home else Path.home() / ".config") / "heaptender" / "keys"


def _new_key(configuration: Configuration | None, given: dict[str, Any]) -> int:
    from monitor.certificate import rotate_key  # noqa: PLC0415

    folder = _key_folder(configuration, given)
    site = configuration.settings.site.name if configuration is not None else given["site"] or "Yard"
    key = rotate_key(folder, site, time.time_ns() // 1_000_000)
    click.echo(f"From now on certificates are signed with key {key.key_id[:16]}; it lies in {folder}. Back it up.")
    return 0
