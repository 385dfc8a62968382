"""The answer of `tune`: lines for a terminal, JSON values, and a report with pictures in one file."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.console.reports import write_report
from monitor.app.tuning_report.tuning_words import (
    SAME_MS,
    basis_words,
    better,
    record_words,
    row_cells,
    row_words,
    set_parts,
    set_words,
    trouble_words,
    value_words,
    verdict_words,
)
from monitor.app.tuning_run.tuning_job import Done, Moved
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.times import show_duration, show_time
from monitor.model.words import PHASE_SHOWN
from monitor.proof.rules import NO_RULE
from monitor.tuning import SHOWN, WEEK_MS, BatchDates, Kind, Row, Score, Set

PHASES_HEAD = "How the phases move, one threshold at a time, some values of each:"


@dataclass(frozen=True, slots=True)
class Report:
    """The result of tuning, ready to be shown.

    Attributes:
        done: The result.
        settings: Today's settings of the yard.
        worth: How many needless messages weigh as much as one missed trouble.
        zone: The site's time zone.
    """

    done: Done
    settings: Settings
    worth: int
    zone: ZoneInfo

    def lines(self) -> Iterator[str]:
        """Yield the lines for a terminal; a `*` marks the suggested row."""
        yield self._record()
        yield basis_words(self.done.findings)
        yield ""
        for number, row in enumerate(self.done.findings.rows, 1):
            yield f"{'*' if row.suggested else ' '} {number}. {self._words(row)}."
        troubles = trouble_words(self.done.findings, self.settings)
        if troubles:
            yield ""
            yield "Trouble by trouble, on the weeks to check on:"
            yield from (f"  {line}" for line in troubles)
        yield ""
        yield verdict_words(self.done.findings, self.worth)
        phases = self._phases()
        if phases:
            yield ""
            yield PHASES_HEAD
            yield from (f"  {line}" for line in phases)

    def plain(self) -> dict[str, Any]:
        """Return the answer as JSON values; times in RFC 3339, spans in seconds."""
        found = self.done.findings
        parts = found.parts
        return {
            "place": found.ground.place,
            "kind": found.kind.value,
            "why": None if found.why is None else found.why.value,
            "from": show_time(found.ground.start),
            "to": show_time(found.ground.end),
            "weeks": len(found.weeks),
            "choosing": None if parts is None else [[show_time(a), show_time(b)] for a, b in parts.choosing],
            "reporting": None if parts is None else [[show_time(a), show_time(b)] for a, b in parts.reporting],
            "troubles": len(found.ground.troubles),
            "tried": found.tried,
            "better": found.kind is Kind.CHOSEN and better(found, self.worth),
            "rows": [self._plain_row(row) for row in found.rows],
            "phases": [self._plain_phases(moved) for moved in self.done.phases],
            "verdict": verdict_words(found, self.worth),
        }

    def chosen(self, take: int | None) -> Set | None:
        """Return the values to write: those of row `take`, else the suggested ones if they beat today's; None if nothing does.

        Raises:
            MisuseError: There is no such row.
        """
        rows = self.done.findings.rows
        if take is not None:
            if take > len(rows):
                raise MisuseError(f"--take {take}: there are only {len(rows)} rows.")
            return rows[take - 1].values
        best = self.done.findings.best
        return best.values if best is not None and better(self.done.findings, self.worth) else None

    def write(self, out: Path, cuts: Mapping[str, bytes]) -> Path:
        """Write the report and return its path; in a folder it is called `tuning-PLACE.html`.

        Args:
            out: The file, or the folder.
            cuts: The cuts of the typeface that it carries; {}: none.

        Raises:
            UnavailableError: The file cannot be written.
        """
        from monitor.app.tuning_report.report_pictures import one_svg  # noqa: PLC0415 (pictures, only where they are asked for)

        suffix = out.suffix.lower()
        path = (
            out if suffix in {".html", ".svg"} and not out.is_dir() else out / f"tuning-{self.done.ground.place}.html"
        )
        text = one_svg(self._pictures()) if suffix == ".svg" else self._html(cuts)
        write_report(path, text)
        return path

    def _html(self, cuts: Mapping[str, bytes]) -> str:
        from monitor.app.tuning_report.report_page import ReportPage  # noqa: PLC0415
        from monitor.app.tuning_report.report_pictures import captions  # noqa: PLC0415

        found, place = self.done.findings, self.done.ground.place
        meanings = captions(found, place in self.settings.piles)
        page = ReportPage(
            title=f"{self.settings.place_name(place)}: other settings on its record",
            before=[self._record(), basis_words(found)],
            head=self._head(),
            rows=[self._report_row(row) for row in found.rows],
            verdict=verdict_words(found, self.worth),
            pictures=[*zip(("What was tried", "What would have been sent"), self._pictures(), meanings, strict=True)],
            after=self._remarks(),
        )
        return page.html(cuts)

    def _head(self) -> list[str]:
        row = self.done.findings.rows[0] if self.done.findings.rows else None
        if row is None:
            return []
        names = [name for name, _ in set_parts(self.done.ranges, row.values, self.settings)]
        cells = row_cells(row, self.done.findings, self.worth)
        return [*(f"{name[:1].upper()}{name[1:]}" for name in names), *(head for head, _ in cells)]

    def _report_row(self, row: Row) -> Any:
        from monitor.app.tuning_report.report_page import ReportRow  # noqa: PLC0415

        values = [value for _, value in set_parts(self.done.ranges, row.values, self.settings)]
        judged = self.done.findings.kind is Kind.CHOSEN
        return ReportRow(
            cells=[*values, *(words for _, words in row_cells(row, self.done.findings, self.worth))],
            caught=row.score.caught if judged else 0,
            troubles=row.score.troubles if judged else 0,
            suggested=row.suggested,
        )

    def _record(self) -> str:
        done = self.done
        return record_words(done.findings, done.ranges, self.settings, done.left_out, done.left_out_why)

    def _words(self, row: Row) -> str:
        return row_words(row, self.done.findings, self.done.ranges, self.settings, self.worth)

    def _pictures(self) -> list[str]:
        from monitor.app.tuning_report.report_pictures import choices_picture, strip_picture  # noqa: PLC0415

        found = self.done.findings
        name = self.settings.place_name(found.ground.place)
        other = found.best if found.best is not None and not found.best.today else None
        if other is None and found.kind is Kind.WHAT_IF and len(found.rows) > 1:
            other = found.rows[1]
        now = self._side("today's", found.now.values)
        named = "" if other is None else set_words(self.done.ranges, other.values, self.settings)
        changed = None if other is None else self._side(named, other.values)
        return [
            choices_picture(found, named, f"{name}: the settings that were tried"),
            strip_picture(found.ground, self.zone, now, changed, f"{name}: what would have been sent"),
        ]

    def _side(self, name: str, values: Set) -> Any:
        from monitor.app.tuning_report.report_pictures import Side  # noqa: PLC0415

        effects, said = self.done.again(values)
        return Side(name=name, effects=effects, calls=said.calls)

    def _rules(self) -> list[str]:
        window = self.done.judge.window
        caught = (
            f"A trouble is caught if a message about it went out from {show_duration(window.early_ms)} before its start to "
            f"{show_duration(window.late_ms)} after it. Repeats of a message are not counted again."
        )
        worth = f"One missed trouble is taken to be as bad as {self.worth} needless messages."
        return [f"{caught} {worth} Every figure is of this record; another summer may differ."]

    def _remarks(self) -> list[str]:
        troubles = trouble_words(self.done.findings, self.settings)
        phases = self._phases()
        return [
            *(["Trouble by trouble, on the weeks to check on:", *troubles] if troubles else []),
            *([PHASES_HEAD, *phases] if phases else []),
            *(self._rules() if self.done.findings.kind is Kind.CHOSEN else []),
        ]

    def _phases(self) -> list[str]:
        moved = self.done.phases
        if not moved:
            return []
        still = self._still_keys()
        others = [one for one in moved[1:] if not {*_changed(one, moved[0])} <= still]
        return [
            *(_phase_words(one, moved[0], self, number == 0) for number, one in enumerate((moved[0], *others))),
            *(self._still_words(number) for number in sorted(still)),
        ]

    def _still_keys(self) -> set[int]:
        """Return the numbers of the thresholds that move no date when moved alone."""
        now = self.done.phases[0]
        tried = {number for one in self.done.phases for number in _changed(one, now)}
        moving = {number for one in self.done.phases if one.batches != now.batches for number in _changed(one, now)}
        return tried - moving

    def _still_words(self, number: int) -> str:
        one = self.done.ranges[number]
        pile = self.settings.piles[self.done.ground.place]
        low, high = (value_words(one, value, self.settings) for value in (one.values[0], one.values[-1]))
        said = f"{one.threshold.key.replace('_', ' ')} {low} to {high}: every date as today"
        if one.threshold.key == "hold" and pile.rule != NO_RULE:
            said += f" (the batch goes by the temperature of its rule, {pile.rule})"
        return f"{said}."

    def _plain_row(self, row: Row) -> dict[str, Any]:
        kept = row.kept
        return {
            "settings": {
                one.threshold.key: one.text(value) for one, value in zip(self.done.ranges, row.values, strict=True)
            },
            "today": row.today,
            "suggested": row.suggested,
            **(_plain_count(row) if self.done.findings.kind is Kind.WHAT_IF else {}),
            **_plain_score(row.score, self.done.findings.kind is Kind.CHOSEN),
            "needless_week_spread": _rounded(row.needless_spread),
            "caught_share_spread": _rounded(row.caught_spread),
            "choosing": None if row.choosing is None else _plain_score(row.choosing),
            "by_alarm": row.judged.by_alarm,
            "hints": None if kept is None else asdict(kept),
            "words": self._words(row),
        }

    def _plain_phases(self, moved: Moved) -> dict[str, Any]:
        settings = {
            one.threshold.key: one.text(value) for one, value in zip(self.done.ranges, moved.values, strict=True)
        }
        batches = [
            {
                "batch": one.batch,
                **{
                    phase.value: None if at is None else show_time(at)
                    for phase, at in zip(SHOWN, one.dates, strict=True)
                },
            }
            for one in moved.batches
        ]
        return {"settings": settings, "batches": batches}


def _plain_count(row: Row) -> dict[str, Any]:
    moves = row.moves
    return {
        "alike": row.alike,
        "new": None if moves is None else moves.new,
        "gone": None if moves is None else moves.gone,
        "moved_s": [] if moves is None else [shift / 1000 for shift in moves.shifts],
    }


def _plain_score(score: Score, judged: bool = True) -> dict[str, Any]:
    def seconds(span_ms: int | None) -> float | None:
        return None if span_ms is None else round(span_ms / 1000, 3)

    return {
        "troubles": score.troubles,
        "caught": score.caught,
        "median_warning_s": seconds(score.median_ms),
        "worst_warning_s": seconds(score.worst_ms),
        "needless": score.needless if judged else None,
        "needless_week": round(score.needless_in(WEEK_MS), 3) if judged else None,
        "unjudged": score.unjudged if judged else None,
        "messages": score.messages,
        "alarm_s": seconds(score.alarm_ms),
        "judged_s": seconds(score.judged_ms),
    }


def _rounded(spread: tuple[float, float] | None) -> list[float] | None:
    return None if spread is None else [round(one, 3) for one in spread]


def _phase_words(one: Moved, now: Moved, report: Report, first: bool) -> str:
    if first:
        head = f"today's, {set_words(report.done.ranges, one.values, report.settings)}"
    else:
        changed = _changed(one, now)
        ranges = [report.done.ranges[n] for n in changed]
        head = set_words(ranges, tuple(one.values[n] for n in changed), report.settings)
    known = {batch.batch: batch for batch in now.batches}
    said = [_batch_words(batch, None if first else known.get(batch.batch), report.zone) for batch in one.batches]
    return f"{head}: {'; '.join(said) or 'no phase in this record'}."


def _changed(one: Moved, now: Moved) -> list[int]:
    return [number for number, (mine, theirs) in enumerate(zip(one.values, now.values, strict=True)) if mine != theirs]


def _batch_words(batch: BatchDates, now: BatchDates | None, zone: ZoneInfo) -> str:
    parts = []
    for phase, at, before in zip(
        SHOWN, batch.dates, now.dates if now is not None else [None] * len(SHOWN), strict=True
    ):
        if at is None:
            if before is not None:
                parts.append(f"never {PHASE_SHOWN[phase]}")
            continue
        moment = datetime.fromtimestamp(at / 1000, zone)
        moved = "" if before is None else _moved_words(at - before)
        parts.append(f"{PHASE_SHOWN[phase]} {moment.day} {moment:%b %H:%M}{moved}")
    return ", ".join(parts) or "none of these phases"


def _moved_words(moved_ms: int) -> str:
    if abs(moved_ms) < SAME_MS:
        return " (as today)"
    return f" ({show_duration(abs(moved_ms))} {'later' if moved_ms > 0 else 'earlier'})"
