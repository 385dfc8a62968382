"""Finds a rule: the program's, the site's or a file's; with its text and who confirmed it."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.app.console.refusals import ended, near
from monitor.certificate import Attested
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError, UnavailableError
from monitor.proof.rules import NO_RULE, Rule, load_rule, parse_rule, rule_ids, rule_names, rule_text


@dataclass(frozen=True, slots=True)
class KnownRule:
    """A rule, its TOML text, and who confirmed its figures against the current text, if anybody did."""

    rule: Rule
    text: str
    confirmed: Attested | None = None


def known_rule(rule_id: str, configuration: Configuration | None, kept: Mapping[str, str] | None = None) -> KnownRule:
    """Return a rule by its id.

    Args:
        rule_id: The rule's id.
        configuration: The site's, with its own rules and confirmations; None: there is none.
        kept: Texts of rules that batches keep, by id, for rules that the configuration no longer has.

    Raises:
        MisuseError: There is no such rule.
    """
    confirmed = _confirmed(rule_id, configuration)
    if rule_id in rule_names():
        return KnownRule(load_rule(rule_id), rule_text(rule_id), confirmed)
    own = configuration.site_rules if configuration is not None else {}
    text = own[rule_id].text if rule_id in own else (kept or {}).get(rule_id, "")
    if not text:
        if rule_id == NO_RULE:
            raise MisuseError("No rule is named; name one with --rule (`heaptender rules` lists them).")
        known = [*rule_ids(), *own]
        raise MisuseError(ended(f'There is no rule "{rule_id}"; {near(rule_id, known)}'))
    return KnownRule(parse_rule(text, f"{rule_id}.toml", rule_id), text, confirmed)


def rule_from_file(path: Path, configuration: Configuration | None = None) -> KnownRule:
    """Return the rule of a file; its id is the file's name without the ending.

    Raises:
        ConfigurationError: The file is wrong; the error has a sentence for every fault.
        MisuseError: The file does not exist, is no text, or has the id of a rule of the program.
        UnavailableError: The file cannot be read.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as fault:
        raise MisuseError(f"{path} does not exist; --rule-file names a rule as TOML.") from fault
    except IsADirectoryError as fault:
        raise MisuseError(f"{path} is a folder; --rule-file names a rule as TOML.") from fault
    except UnicodeDecodeError as fault:
        raise MisuseError(f"{path} is not UTF-8 text; a rule file is TOML.") from fault
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be read ({fault.strerror}).") from fault
    if path.stem in rule_names() and text != rule_text(path.stem):
        raise MisuseError(
            f'{path}: "{path.stem}" is the id of a rule that comes with the program; name the file otherwise.'
        )
    return KnownRule(parse_rule(text, path.name, path.stem), text, _confirmed(path.stem, configuration))


def _confirmed(rule_id: str, configuration: Configuration | None) -> Attested | None:
    found = configuration.confirmed.get(rule_id) if configuration is not None else None
    return None if found is None else Attested(by=found.by, at=found.at, words=found.note)
