"""Reads a certificate's statement back into the case that it is about, trusting nothing.

Only what the verdict hangs on and what people are told is read; whether the statement holds anything else, or other
numbers than its own readings give, comes out when it is made anew and compared (`verification`).
"""

from collections.abc import Callable
from itertools import pairwise
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from monitor.certificate.attached_rows import CsvRows
from monitor.certificate.case import Attested, CameFrom, Case, CaseProbe, CaseWork, ServiceEntry
from monitor.certificate.statement import FORMAT, VERSION, Imprint, Tree
from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.settings import Calibration
from monitor.model.times import parse_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.proof.holdset import HoldBasis
from monitor.proof.intervals import FAR_AHEAD_MS, LONG_AGO_MS, Intervals
from monitor.proof.rules import parse_rule

_VALUE = TypeVar("_VALUE")


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
            issued_at=parse_time(_text(tree["issued"])),
            key_id=_text(tree["key"]["spki_sha256"]),
            readings_sha256=_text(tree["readings"]["sha256"]),
            typst=_text(tree["software"]["typst"]),
            layout=_text(tree["software"]["layout"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise MisuseError(f"The attached record is not as its format says ({fault}).") from fault


def _case(tree: Tree, rows: CsvRows) -> Case:
    site, batch, rule, judged = tree["site"], tree["batch"], tree["rule"], tree["judged"]
    rule_id = _text(rule["id"])
    return Case(
        site=_text(site["name"]),
        time_zone=_text(site["time_zone"]),
        temperature_unit=_text(site["temperature_unit"]),
        batch=_text(batch["id"]),
        pile=_text(batch["pile"]),
        pile_name=_text(batch["pile_name"]),
        lay_on=tuple((_text(one["pile"]), parse_time(one["from"]), _time(one["to"])) for one in batch["lay_on"]),
        method=None if batch["method"] is None else Method(batch["method"]),
        built=_time(batch["built"]),
        feedstocks=_text(batch["feedstocks"]),
        quantity=_text(batch["quantity"]),
        size=_text(batch["size"]),
        rule=parse_rule(_text(rule["text"]), f"{rule_id}.toml", rule_id),
        rule_text=_text(rule["text"]),
        confirmed=None if rule["confirmed"] is None else _attested(rule["confirmed"]),
        declared={key: _attested(one) for key, one in tree["declared"].items()},
        measures={key: _whole(one) for key, one in tree["measures"].items()},
        basis=HoldBasis(judged["basis"]),
        max_gap_ms=_whole(judged["max_gap_ms"]),
        hand_gap_ms=_whole(judged["hand_gap_ms"]),
        guard_milli_k=_whole(judged["guard_milli_k"]),
        smoothing_ms=_whole(judged["smoothing_ms"]),
        start=_time(judged["start"]),
        end=_time(judged["end"]),
        as_of=_time(judged["as_of"]),
        came_after=tuple(map(_text, tree["came_after"])),
        turnings=tuple(map(parse_time, tree["turnings"])),
        restarts=tuple(map(parse_time, tree["restarts"])),
        came_in=tuple(
            CameFrom(time=parse_time(one["time"]), batch=_text(one["batch"]), met=_flag(one["met"]))
            for one in tree["came_in"]
        ),
        work=tuple(map(_work, tree["work"])),
        probes=_probes(tree["probes"], rows),
        left_out=_text(tree["left_out"]),
        remarks=tuple(map(_text, tree["remarks"])),
        chain_head=_text(tree["record"]["chain_head"]),
        origin=_text(tree["record"]["origin"]),
        software=_text(tree["software"]["program"]),
    )


def _probes(trees: list[Tree], rows: CsvRows) -> tuple[CaseProbe, ...]:
    known = [_text(one["id"]) for one in trees]
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
        probe=tree["id"],
        name=_text(tree["name"]),
        depth_milli_m=_maybe(tree["depth_milli_m"], _whole),
        by_hand=_flag(tree["by_hand"]),
        times=rows.times[mine],
        micro=rows.micro[mine],
        units=rows.units[mine],
        unit_names=rows.unit_names,
        quality=rows.quality[mine],
        calibrations=tuple(_calibration(one) for one in tree["calibrations"]),
        uncertainty_milli_k=_maybe(tree["uncertainty_milli_k"], _whole),
        service=_service(tree["service"]),
        unread=tuple(map(parse_time, tree["unread"])),
        entries=tuple(_entry(one) for one in tree["entries"]),
        retired_by=_text(tree["retired_by"]),
    )


def _calibration(tree: Tree) -> Calibration:
    points = tuple((_whole(shown), _whole(right)) for shown, right in tree["points_milli_c"])
    return Calibration(points=points, start=_time(tree["from"]), by=_text(tree["by"]), note=_text(tree["note"]))


def _entry(tree: Tree) -> ServiceEntry:
    return ServiceEntry(
        time=parse_time(tree["time"]),
        into=_flag(tree["into"]),
        how=_text(tree["how"]),
        by=_text(tree["by"]),
        entered=_time(tree["entered"]),
    )


def _work(tree: Tree) -> CaseWork:
    work = Work(
        time=parse_time(tree["time"]),
        entered=_time(tree["work_entered"]),
        kind=WorkKind(tree["kind"]),
        place=_text(tree["place"]),
        to=_text(tree["to"]),
        batch=_text(tree["batch"]),
        probe=_text(tree["probe"]),
        amount=_text(tree["amount"]),
        measure=_text(tree["measure"]),
        unit=_text(tree["unit"]),
        what=_text(tree["what"]),
        source=_text(tree["from"]),
        spot=_text(tree["spot"]),
        by=_text(tree["by"]),
        note=_text(tree["note"]),
    )
    return CaseWork(
        work=work,
        entered=parse_time(tree["entered"]),
        imported=_flag(tree["imported"]),
        corrected=_time(tree["corrected"]),
    )


def _attested(tree: Tree) -> Attested:
    return Attested(by=_text(tree["by"]), at=parse_time(tree["at"]), words=_text(tree["words"]))


def _service(pairs: list[list[str | None]]) -> Intervals:
    """Return a service; that it ended and began anew at one instant must not be lost."""
    found = tuple(
        (LONG_AGO_MS if start is None else parse_time(start), FAR_AHEAD_MS if end is None else parse_time(end))
        for start, end in pairs
    )
    if any(start >= end for start, end in found) or any(one[1] > other[0] for one, other in pairwise(found)):
        raise ValueError("a probe's service is not in order")
    return found


def _time(text: Any) -> int | None:
    return None if text is None else parse_time(text)


def _maybe(value: Any, read: Callable[[Any], _VALUE]) -> _VALUE | None:
    return None if value is None else read(value)


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.60} is not a text")
    return value


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(f"{value!r:.60} is not a whole number")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"{value!r:.60} is neither true nor false")
    return value
