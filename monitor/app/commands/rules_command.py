"""`rules`: lists the rules and their sources."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from monitor.app.console.options import config_option, configuration_path, json_option, load_configuration, print_json

if TYPE_CHECKING:
    from monitor.app.cases import KnownRule
    from monitor.configuration import Configuration
    from monitor.proof.rules import DurationRule


@click.command()
@click.argument("rule_id", metavar="[RULE]", required=False)
@config_option
@json_option
def command(rule_id: str | None, config_file: Path | None, as_json: bool) -> int:
    """List the rules of time and temperature, or say everything about one.

    Rules that come with the program need no configuration; with one, the site's own rules are listed too.

    \b
    Examples:
      heaptender rules
      heaptender rules us-112-54-turned
    """
    from monitor.app.cases import known_rule  # noqa: PLC0415 (so that --help stays quick)
    from monitor.proof.rules import duration_rule_ids, load_duration_rule, rule_ids  # noqa: PLC0415

    there = config_file is not None or configuration_path(None).exists()
    configuration = load_configuration(config_file) if there else None
    if rule_id in duration_rule_ids():
        _say_duration(load_duration_rule(rule_id), configuration, as_json=as_json)
        return 0
    if rule_id is not None:
        known = known_rule(rule_id, configuration)
        if as_json:
            print_json(_plain(known, configuration, whole=True))
        else:
            click.echo("\n".join(_whole(known)))
        return 0
    own = configuration.site_rules if configuration is not None else {}
    listed = [known_rule(one, configuration) for one in (*rule_ids(), *sorted(own))]
    if as_json:
        durations = [_plain_duration(load_duration_rule(one), configuration) for one in duration_rule_ids()]
        print_json([*(_plain(known, configuration, whole=False) for known in listed), *durations])
        return 0
    for known in listed:
        rule = known.rule
        click.echo(f"{rule.id}\n    {rule.title} ({rule.jurisdiction}, {rule.section})")
        click.echo(f"    {_methods(known)}; {_hold(rule.hold_milli_c)}; figures {_known(known)}")
    for one in duration_rule_ids():
        lasting = load_duration_rule(one)
        click.echo(f"{one}\n    {lasting.title} ({lasting.jurisdiction}, {lasting.section})")
        click.echo(
            f"    a rule of duration, for lots (`heaptender lots trace`); figures {_known_lasting(lasting, configuration)}"
        )
    click.echo(f"{len(listed) + len(duration_rule_ids())} rules. `heaptender rules RULE` says everything about one.")
    return 0


def _known_lasting(rule: "DurationRule", configuration: "Configuration | None") -> str:
    from monitor.proof.rules import STATUS_WORDS  # noqa: PLC0415 (so that --help stays quick)

    confirmed = None if configuration is None else configuration.confirmed.get(rule.id)
    return STATUS_WORDS[rule.status] if confirmed is None else f"confirmed by {confirmed.by}"


def _say_duration(rule: "DurationRule", configuration: "Configuration | None", *, as_json: bool) -> None:
    if as_json:
        print_json(_plain_duration(rule, configuration) | {"wording": rule.wording, "source": rule.source})
        return
    click.echo(f"{rule.id}: {rule.title}")
    click.echo(f"Where: {rule.jurisdiction}, {rule.section}")
    click.echo(f"What it asks for: {rule.wording}")
    click.echo(f"Source: {rule.source}")
    click.echo(f"Figures: {_known_lasting(rule, configuration)}")
    click.echo("A lot is held against it by `heaptender lots trace LOT`.")


def _plain_duration(rule: "DurationRule", configuration: "Configuration | None") -> dict[str, Any]:
    confirmed = configuration is not None and rule.id in configuration.confirmed
    return {
        "id": rule.id,
        "kind": "duration",
        "title": rule.title,
        "jurisdiction": rule.jurisdiction,
        "section": rule.section,
        "status": rule.status.value,
        "for_information": rule.for_information and not confirmed,
        "own": False,
    }


def _methods(known: "KnownRule") -> str:
    return ", ".join(method.value for method in known.rule.methods)


def _hold(milli_c: int) -> str:
    from monitor.model.units import show_temperature  # noqa: PLC0415

    return f"{show_temperature(milli_c, 'degF')} ({show_temperature(milli_c, 'degC')})"


def _known(known: "KnownRule") -> str:
    if known.rule.for_information and known.confirmed is not None:
        return f"confirmed by {known.confirmed.by}"
    from monitor.proof.rules import STATUS_WORDS  # noqa: PLC0415 (so that --help stays quick)

    return STATUS_WORDS[known.rule.status]


def _whole(known: "KnownRule") -> Iterator[str]:
    rule = known.rule
    yield f"{rule.id}: {rule.title}"
    yield f"Where: {rule.jurisdiction}, {rule.section}"
    yield f"Methods: {_methods(known)}"
    yield f"Feedstock: {rule.feedstock}"
    ways = " or ".join(dict.fromkeys(_hold(way.limits.low_milli_c) for way in rule.alternatives))
    yield f"Hold temperature: {ways}"
    yield f"What it asks for: {rule.wording}"
    yield f"Source: {rule.source}"
    yield f"Figures: {_known(known)}"
    if rule.caution:
        yield f"Caution: {rule.caution}"
    if rule.conditions:
        yield "It also asks for (declare one with `certify --declare KEY=NAME`):"
        yield from (f"  {condition.key}: {condition.text}" for condition in rule.conditions)


def _plain(known: "KnownRule", configuration: "Configuration | None", *, whole: bool) -> dict[str, Any]:
    from monitor.model.times import show_time  # noqa: PLC0415
    from monitor.model.units import plain_number  # noqa: PLC0415

    rule, confirmed = known.rule, known.confirmed
    own = configuration is not None and rule.id in configuration.site_rules
    found: dict[str, Any] = {
        "id": rule.id,
        "kind": "heat",
        "title": rule.title,
        "jurisdiction": rule.jurisdiction,
        "section": rule.section,
        "methods": [method.value for method in rule.methods],
        "hold_degc": plain_number(rule.hold_milli_c),
        "status": rule.status.value,
        "for_information": rule.for_information and confirmed is None,
        "own": own,
    }
    if not whole:
        return found
    return found | {
        "feedstock": rule.feedstock,
        "wording": rule.wording,
        "source": rule.source,
        "caution": rule.caution,
        "conditions": [{"key": condition.key, "text": condition.text} for condition in rule.conditions],
        "confirmed": None if confirmed is None else {"by": confirmed.by, "at": show_time(confirmed.at)},
        "text": known.text,
    }
