"""Compares the mirror with the journal, hour by hour, and sends missing readings again.

Rules: a server's *accepted* proves nothing, so its content is read back; an hour that lacks readings is sent again,
which overwrites; surplus readings on the server are reported and left alone.
"""

import csv
import io
import json
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from monitor.mirror.line_protocol import READING, reading_line
from monitor.mirror.mirror import BATCH, Mirror
from monitor.mirror.source import MirrorSource
from monitor.model.times import HOUR_MS, show_time

ANSWER_LIMIT = 8 * 1024 * 1024


class Unreadable(Exception):  # noqa: N818 - it says what the server is
    """The server's content cannot be read back; the text says why, without secrets."""


class Reader(Protocol):
    """Reads counts back from a server."""

    def counts(self, start: int, end: int) -> Mapping[str, int]:
        """Return the number of readings of each probe on the server with start <= time < end (UTC ms).

        Raises:
            Unreadable: The content cannot be read back.
        """


@dataclass(slots=True)
class Checked:
    """Result of a check; spans are (start, end) in UTC ms."""

    hours: int = 0
    short: list[tuple[int, int]] = field(default_factory=list)
    over: list[tuple[int, int]] = field(default_factory=list)
    sent_again: int = 0

    def sentence(self) -> str:
        """Return the result for people."""
        if not self.short and not self.over:
            return f"the mirror holds everything in {self.hours} hours"
        text = f"of {self.hours} hours {len(self.short)} lacked readings, {self.sent_again} were sent again"
        if self.over:
            text += f"; {len(self.over)} hold more than the journal, the first from {show_time(self.over[0][0])}"
        return text


def check(source: MirrorSource, reader: Reader, mirror: Mirror, start: int, end: int) -> Checked:
    """Compare whole hours and send again those that lack readings.

    Args:
        source: The journal.
        reader: Reads the server's counts back.
        mirror: Writes to the server.
        start: Beginning of the span, UTC ms; its whole hour is compared.
        end: End of the span, UTC ms, exclusive.

    Returns:
        Hours compared, spans that lacked readings or held too many, and the number of readings sent again.

    Raises:
        Unreadable: The server's content cannot be read back.
        WriteError: It could be read but not be written to.
    """
    found = Checked()
    for hour in range(start - start % HOUR_MS, end, HOUR_MS):
        until = hour + HOUR_MS
        here, there = source.counts(hour, until), reader.counts(hour, until)
        found.hours += 1
        if any(there.get(probe, 0) < count for probe, count in here.items()):
            found.short.append((hour, until))
            lines = [reading_line(reading) for reading in source.readings_between(hour, until)]
            for place in range(0, len(lines), BATCH):
                mirror.deliver(lines[place : place + BATCH])
            found.sent_again += len(lines)
        elif any(here.get(probe, 0) < count for probe, count in there.items()):
            found.over.append((hour, until))
    return found


def _fetch(request: urllib.request.Request, timeout_s: float) -> bytes:
    try:
        with urllib.request.urlopen(request, timeout=timeout_s) as answer:  # noqa: S310 - http(s), checked at the start
            return bytes(answer.read(ANSWER_LIMIT))
    except urllib.error.HTTPError as fault:
        fault.close()
        raise Unreadable(f"the mirror's server answered {fault.code} to a query") from None
    except (OSError, ValueError) as fault:
        raise Unreadable(f"the mirror's server cannot be queried ({type(fault).__name__})") from None


class ExportReader:
    """Reads back through `/api/v1/export`, which servers of the VictoriaMetrics kind offer."""

    def __init__(self, url: str, token: str | None = None, *, yard: str = "", timeout_s: float = 60.0) -> None:
        """Take the server's address (http or https), and the yard whose points are counted; "" for all."""
        self._url, self._token, self._timeout_s = url.rstrip("/"), token, timeout_s
        self._series = f"{READING}_raw" + (f"{{yard={json.dumps(yard, ensure_ascii=False)}}}" if yard else "")

    def counts(self, start: int, end: int) -> Mapping[str, int]:
        """Return counts by probe (see `Reader`)."""
        asked = {"match[]": self._series, "start": f"{start / 1000:.3f}", "end": f"{(end - 1) / 1000:.3f}"}
        request = urllib.request.Request(f"{self._url}/api/v1/export?{urllib.parse.urlencode(asked)}")  # noqa: S310 - as above
        if self._token:
            request.add_header("Authorization", f"Token {self._token}")
        counts: dict[str, int] = {}
        try:
            for line in _fetch(request, self._timeout_s).splitlines():
                series = json.loads(line)
                probe = str(series["metric"]["probe"])
                inside = sum(start <= time < end for time in series["timestamps"])
                counts[probe] = counts.get(probe, 0) + inside
        except (ValueError, KeyError, TypeError) as fault:
            raise Unreadable("the mirror's server answered something else than an export") from fault
        return counts


class FluxReader:
    """Reads back through `/api/v2/query`, which InfluxDB 2 offers."""

    def __init__(
        self, url: str, *, org: str, bucket: str, token: str | None, yard: str = "", timeout_s: float = 60.0
    ) -> None:
        """Take the server's address (http or https), the bucket, and the yard whose points are counted; "" for all."""
        self._url, self._org, self._bucket = url.rstrip("/"), org, bucket
        self._only = f" and r.yard == {json.dumps(yard, ensure_ascii=False)}" if yard else ""
        self._token, self._timeout_s = token, timeout_s

    def counts(self, start: int, end: int) -> Mapping[str, int]:
        """Return counts by probe (see `Reader`)."""
        query = (
            f"from(bucket: {json.dumps(self._bucket)}) |> range(start: {show_time(start)}, stop: {show_time(end)})"
            f' |> filter(fn: (r) => r._measurement == "{READING}" and r._field == "raw"{self._only})'
            ' |> group(columns: ["probe"]) |> count()'
        )
        asked = urllib.parse.urlencode({"org": self._org})
        request = urllib.request.Request(  # noqa: S310 - http(s), checked at the start
            f"{self._url}/api/v2/query?{asked}",
            data=query.encode(),
            headers={"Content-Type": "application/vnd.flux", "Accept": "application/csv"},
        )
        if self._token:
            request.add_header("Authorization", f"Token {self._token}")
        text = _fetch(request, self._timeout_s).decode("utf-8", "replace")
        counts: dict[str, int] = {}
        header: list[str] = []
        try:
            for row in csv.reader(io.StringIO(text)):
                if "_value" in row:
                    header = row
                elif header and len(row) == len(header):
                    named = dict(zip(header, row, strict=True))
                    counts[named["probe"]] = counts.get(named["probe"], 0) + int(named["_value"])
        except (KeyError, ValueError, csv.Error) as fault:
            raise Unreadable("the mirror's server answered something else than counts") from fault
        return counts


def reader_of(url: str, *, org: str, bucket: str, token: str | None, at: int, yard: str = "") -> Reader:
    """Find the reader that a server answers, by asking for an empty millisecond.

    Args:
        url: The server's address (http or https).
        org: Organisation.
        bucket: Bucket, or database.
        token: Access token, or None.
        at: Instant to ask for, UTC ms.
        yard: The yard whose points are counted, by their tag.

    Returns:
        The first reader that works.

    Raises:
        Unreadable: The server answers none.
    """
    flux = FluxReader(url, org=org, bucket=bucket, token=token, yard=yard)
    readers: list[Reader] = [flux, ExportReader(url, token, yard=yard)]
    reasons = []
    for reader in readers:
        try:
            reader.counts(at, at + 1)
        except Unreadable as fault:
            reasons.append(str(fault))
        else:
            return reader
    raise Unreadable("; ".join(dict.fromkeys(reasons)))
