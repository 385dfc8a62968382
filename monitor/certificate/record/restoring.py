"""Reads a certificate's statement back into the case that it is about, trusting nothing.

Only what the verdict hangs on and what people are told is read; whether the statement holds anything else, or other
numbers than its own readings give, comes out when it is made anew and compared (`verification`).
"""

import numpy as np
from numpy.typing import NDArray

from monitor.certificate.judged import Case, CaseProbe
from monitor.certificate.record.attached_rows import CsvRows
from monitor.certificate.record.plain_forms import (
    BATCH,
    COURSE,
    INPUTS,
    JUDGED,
    PERHAPS,
    PROBE,
    RECORD,
    RULE,
    SITE,
    TEXT,
)
from monitor.certificate.record.statement import FORMAT, VERSION, Imprint, Tree
from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.times import parse_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.proof.rules import parse_rule


def restore_case(tree: Tree, rows: CsvRows) -> Case:
    """Return the case that a statement and its readings are about.

    Raises:
        MisuseError: The statement is not one of this format, or does not belong to these readings.
    """
    if tree.get("format") != FORMAT:
        raise MisuseError(f"The attached record is not a {FORMAT}.")
    version = tree.get("version")
    if version != VERSION:
        older = isinstance(version, int) and version < VERSION
        raise MisuseError(
            f"This certificate is of an older format ({version}; this program makes {VERSION}): days, turnings and what "
            "material came in were counted otherwise then. Check it with a program of its time, or have it issued anew."
            if older
            else f"The attached record has version {version!r} of its format, this program knows {VERSION}; check it with a "
            "newer program."
        )
    try:
        return _case(tree, rows)
    except ConfigurationError as fault:
        raise MisuseError(f"The rule in the attached record cannot be read: {fault.problems[0]}") from fault
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError) as fault:
        raise MisuseError(f"The attached record is not as its format says ({fault}).") from fault


def restore_imprint(tree: Tree) -> Imprint:
    """Return a statement's own account of its making; raises MisuseError if that is unusable."""
    try:
        return Imprint(
            issued_at=parse_time(TEXT.read(tree["issued"])),
            key_id=TEXT.read(tree["key"]["spki_sha256"]),
            readings_sha256=TEXT.read(tree["readings"]["sha256"]),
            typst=TEXT.read(tree["software"]["typst"]),
            layout=TEXT.read(tree["software"]["layout"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise MisuseError(f"The attached record is not as its format says ({fault}).") from fault


def _case(tree: Tree, rows: CsvRows) -> Case:
    rule_id, judged = TEXT.read(tree["rule"]["id"]), tree["judged"]
    rule = RULE.read(tree["rule"])
    return Case(
        rule=parse_rule(rule["rule_text"], f"{rule_id}.toml", rule_id),
        as_of=PERHAPS.read(judged["as_of"]),
        probes=_probes(tree["probes"], rows),
        software=TEXT.read(tree["software"]["program"]),
        **SITE.read(tree["site"]),
        **BATCH.read(tree["batch"]),
        **rule,
        **JUDGED.read(judged),
        **COURSE.read(tree),
        inputs=INPUTS.read(tree.get("inputs", [])),
        **RECORD.read(tree["record"]),
    )


def _probes(trees: list[Tree], rows: CsvRows) -> tuple[CaseProbe, ...]:
    known = [TEXT.read(one["id"]) for one in trees]
    strangers = sorted(set(rows.probe_names) - set(known))
    if strangers or len(set(known)) != len(known):
        raise MisuseError(
            f"The attached readings are of other probes than the record names ({', '.join(strangers) or 'one twice'})."
        )
    if set(rows.unit_names) - set(UNITS_OF[Quantity.TEMPERATURE]):
        raise MisuseError("The attached readings have a unit that is not one of temperature.")
    if int(rows.times.size) > 1 and not _in_order(rows):
        raise MisuseError("The attached readings are not in order of time and probe, or one is there twice.")
    place = {name: at for at, name in enumerate(rows.probe_names)}
    return tuple(_probe(one, rows, rows.probes == place.get(one["id"], -1)) for one in trees)


def _in_order(rows: CsvRows) -> bool:
    by_name = {name: rank for rank, name in enumerate(sorted(rows.probe_names))}
    ranks = np.array([by_name[name] for name in rows.probe_names], dtype=np.int64)[rows.probes]
    later = rows.times[1:] > rows.times[:-1]
    same = (rows.times[1:] == rows.times[:-1]) & (ranks[1:] > ranks[:-1])
    return bool(np.all(later | same))


def _probe(tree: Tree, rows: CsvRows, mine: NDArray[np.bool_]) -> CaseProbe:
    return CaseProbe(
        times=rows.times[mine],
        micro=rows.micro[mine],
        units=rows.units[mine],
        unit_names=rows.unit_names,
        quality=rows.quality[mine],
        **PROBE.read(tree),
    )
