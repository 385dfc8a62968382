"""The rules of the site's own: TOML files beside the configuration, and confirmations of unchecked figures.

Rules: an entry of `files` is a rule file or a folder of them; the id is the file's name without its ending and must differ
from those of the rules that come with the program; a bad file is refused with all its faults. Only the rules that a pile
names become settings: an unused rule can change nothing.
"""

from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from monitor.configuration.config_document import Document
from monitor.configuration.config_problems import KeyPath, Problems, suggestion
from monitor.configuration.configured import Confirmation, SiteRule
from monitor.model.errors import ConfigurationError
from monitor.proof.rules import parse_rule


def site_rules(
    document: Document, folder: Path, shipped: Collection[str] | None, problems: Problems
) -> dict[str, SiteRule]:
    """Read the site's own rules; faults of the files are noted.

    Args:
        document: A document of the right shape.
        folder: The folder that relative paths start from.
        shipped: Ids of the rules that come with the program, or None if they are not known.
        problems: Receives the faults.

    Returns:
        The valid rules by id.
    """
    found: dict[str, SiteRule] = {}
    for number, entry in enumerate(document.rules.files):
        path: KeyPath = ("rules", "files", number)
        for file in _files(path, entry, folder, problems):
            rule_id = file.stem
            if rule_id in (shipped or ()):
                problems.add(path, f'{file.name}: "{rule_id}" comes with the program', "give the file another name")
            elif rule_id in found:
                problems.add(path, f'{file}: "{rule_id}" is {found[rule_id].path} already', "name each rule once")
            elif (text := _checked(path, file, rule_id, problems)) is not None:
                found[rule_id] = SiteRule(id=rule_id, path=file, text=text)
    return found


def used_texts(document: Document, rules: Mapping[str, SiteRule]) -> dict[str, str]:
    """Return the texts of those rules that a pile names, by id."""
    named = {pile.rule for pile in document.piles.values()}
    return {rule_id: rule.text for rule_id, rule in sorted(rules.items()) if rule_id in named}


def confirmations(document: Document, known: Collection[str] | None, problems: Problems) -> dict[str, Confirmation]:
    """Collect the confirmations of rules' figures.

    Args:
        document: A document of the right shape.
        known: Ids of all rules, shipped and own; None leaves ids unchecked.
        problems: Receives the faults.

    Returns:
        Confirmations by the rule's id, faulty ones included.
    """
    found = {}
    for rule_id, part in document.rules.confirmed.items():
        path: KeyPath = ("rules", "confirmed", rule_id)
        if known is not None and rule_id not in known:
            problems.add(path, f'the rule "{rule_id}" is unknown', suggestion(rule_id, known, noun="rule"))
        if not part.by.strip():
            problems.add((*path, "by"), "it names nobody", "write the name of the person who compared the figures")
        found[rule_id] = Confirmation(by=part.by.strip(), at=part.at, note=part.note)
    return found


def _files(path: KeyPath, entry: str, folder: Path, problems: Problems) -> Iterator[Path]:
    try:
        file = (folder / Path(entry).expanduser()).resolve()
    except RuntimeError:
        problems.add(path, f'"{entry}" begins with a home folder that is not there', "write the whole path")
        return
    if file.is_dir():
        yield from sorted(one for one in file.iterdir() if one.suffix == ".toml" and one.is_file())
    elif file.suffix != ".toml":
        problems.add(path, f'"{entry}" is no rule file', "write the path of a .toml file, or of a folder of them")
    else:
        yield file


def _checked(path: KeyPath, file: Path, rule_id: str, problems: Problems) -> str | None:
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        reason = (fault.strerror or "it is not there") if isinstance(fault, OSError) else "it is not UTF-8 text"
        problems.add(path, f"{file} cannot be read ({reason})", "write the path of a rule file that this user may read")
        return None
    try:
        parse_rule(text, file.name, rule_id)
    except ConfigurationError as faults:
        for sentence in faults.problems:
            problems.add(path, sentence.rstrip("."), f"correct {file.name}")
        return None
    return text
