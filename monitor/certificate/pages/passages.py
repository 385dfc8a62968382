"""The standing words of a certificate: who answers for the figures, what to beware of, and how to check it."""

from collections.abc import Mapping
from typing import Any

from monitor.certificate.judged import Case
from monitor.certificate.pages.sheet_wording import Wording
from monitor.certificate.record import JSON_FILE, READINGS_FILE, Tree
from monitor.proof.rules import rule_ids, rule_text

Section = Mapping[str, Any]


def section(
    title: str,
    *paragraphs: str,
    head: list[str] | None = None,
    rows: list[list[str]] | None = None,
    widths: list[str] | None = None,
    after: str = "",
    notes: list[str] | None = None,
    picture: str = "",
) -> Section:
    """Return one section of the pages.

    Args:
        title: Its heading.
        paragraphs: The texts above the table.
        head: The table's headings, one a column; without it, or without rows, there is no table.
        rows: Its rows, as many cells as headings.
        widths: Shares of the line, one a column.
        after: What stands beneath the table.
        notes: What stands small beneath that.
        picture: Name of a picture's file, or "".

    Returns:
        The section as the template takes it.
    """
    table = {"head": head, "rows": rows, "widths": widths} if head and rows else None
    return {
        "title": title,
        "paragraphs": list(paragraphs),
        "table": table,
        "after": after,
        "notes": notes or [],
        "picture": picture,
    }


def cut_rows(rows: list[list[str]], most: int, what: str) -> tuple[list[list[str]], str]:
    """Return the first rows of a long table, and a line that says how many more the attached record holds.

    Args:
        rows: All rows.
        most: How many are shown at most.
        what: What they are, in the plural.

    Returns:
        The rows that are shown, and the line, "" where they are all shown.
    """
    if len(rows) <= most:
        return rows, ""
    return rows[:most], f"And {len(rows) - most:,} more {what}; the attached record has them all."


def band(case: Case, wording: Wording) -> str:
    """Return the text across the page if a rule's figures are unchecked or were so until somebody confirmed them; else ""."""
    if not case.rule.for_information:
        return ""
    if case.confirmed is None:
        return (
            "For information only: the figures of this rule are from memory or unpublished, and nobody at the site has "
            "confirmed them against the current text."
        )
    words = f" ({case.confirmed.words})" if case.confirmed.words else ""
    return (
        f"{case.confirmed.by} confirmed the figures of this rule against the current text on "
        f"{wording.when(case.confirmed.at)}{words}."
    )


def own_rule(rule_id: str, text: str) -> str:
    """Return a note on a rule that does not come with the program in this text; "" for one that does."""
    if rule_id not in rule_ids():
        return (
            f"Rule {rule_id} does not come with this program: read its text, under `rule` in the record, before you rely "
            "on it."
        )
    if rule_text(rule_id) != text:
        return (
            f"Its rule is called {rule_id}, but its text is not the one that comes with this program: read it, under "
            "`rule` in the record, before you rely on it."
        )
    return ""


def cautions() -> Section:
    """Return the cautions for readers."""
    return section(
        "Please note",
        "This is evidence that the yard hands over about itself. It is not a permit, not a laboratory's finding and not an "
        "authority's decision. Local codes may ask for more or for something else, and they prevail.",
        "It speaks of the places where the probes were. Material near the surface, and dry or wet pockets, may have been "
        "cooler; turning is what brings them in.",
        "Hot compost can scald, can catch fire when it is opened dry and hot, and its dust carries spores of moulds: wet "
        "it, keep upwind, wear a mask.",
    )


def checking(tree: Tree) -> Section:
    """Return how to check the certificate."""
    return section(
        "How to check this record",
        "Run: heaptender verify FILE. It needs this file alone, no account and no network. It checks that no byte has "
        "changed since the file was signed, and works the verdict out anew from the readings inside. Any PDF reader shows "
        f"the signature and the two attachments: {JSON_FILE} holds all that is stated here and the rule's whole text, "
        f"{READINGS_FILE} every stored reading as it was sent.",
        "It can say which key signed. Whether that is the yard's key, you must find out from the yard itself. It cannot "
        "say where the probes lay, nor whether a thermometer was right.",
        head=["What", "Value"],
        rows=[
            ["Record", tree["id"]],
            ["Signed with key (SHA-256 of its public half)", tree["key"]["spki_sha256"]],
            [f"SHA-256 of {READINGS_FILE}", tree["readings"]["sha256"]],
            ["Readings attached", f"{tree['readings']['rows']:,}"],
            ["Where the record came from", tree["record"]["origin"]],
            ["Head of the journal's hash chain", tree["record"]["chain_head"] or "none: not from a journal"],
            ["Made with", f"{tree['software']['program']}, typst {tree['software']['typst']}"],
        ],
        widths=["2fr", "5fr"],
    )
