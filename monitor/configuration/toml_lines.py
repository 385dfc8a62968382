"""Finds the line on which each key of a TOML text stands; the standard reader keeps none.

Callers pass only text that the standard reader has accepted or refused already, so this scanner may be lenient: where it
does not understand the text it gives fewer lines, never a wrong value. Inline tables and multi-line values count
as their key's line.

Source: TOML v1.0.0 (keys, tables, arrays of tables, strings).
"""

import re

from monitor.configuration.config_problems import KeyPath

_PART = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(\.?)""")


def _key(text: str) -> tuple[list[str], int]:
    """Return the dotted key at the start of a text and the index at which it ends."""
    parts: list[str] = []
    at = 0
    while found := _PART.match(text, at):
        quoted, literal, bare, dot = found.groups()
        parts.append(next(part for part in (quoted, literal, bare) if part is not None))
        at = found.end()
        if not dot:
            break
    return parts, at


class _Value:
    """Follows a value over lines: whether a multi-line string or an open bracket goes on."""

    def __init__(self) -> None:
        self.depth = 0
        self.quote = ""

    @property
    def open(self) -> bool:
        return self.depth > 0 or bool(self.quote)

    def follow(self, text: str) -> None:
        at = 0
        while at < len(text):
            if self.quote:
                end = text.find(self.quote, at)
                while end > 0 and self.quote == '"""' and text[end - 1] == "\\":
                    end = text.find(self.quote, end + 1)
                if end < 0:
                    return
                at = end + 3
                self.quote = ""
            elif text.startswith(('"""', "'''"), at):
                self.quote = text[at : at + 3]
                at += 3
            elif text[at] in "\"'":
                at = _string_end(text, at)
            elif text[at] == "#":
                return
            else:
                self.depth += (text[at] in "[{") - (text[at] in "]}")
                at += 1


def _string_end(text: str, start: int) -> int:
    quote = text[start]
    at = start + 1
    while at < len(text) and text[at] != quote:
        at += 2 if quote == '"' and text[at] == "\\" else 1
    return at + 1


class _Scanner:
    """Keeps the open table and the count of each array of tables."""

    def __init__(self) -> None:
        self.lines: dict[KeyPath, int] = {}
        self.table: KeyPath = ()
        self.counts: dict[KeyPath, int] = {}

    def _resolve(self, parts: list[str]) -> KeyPath:
        """Return a header's path with the index of the last item put after every array of tables in it."""
        path: KeyPath = ()
        for part in parts:
            path = (*path, part)
            if path in self.counts:
                path = (*path, self.counts[path])
        return path

    def _note(self, path: KeyPath, number: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], number)

    def header(self, text: str, number: int) -> None:
        many = text.startswith("[[")
        parts, _ = _key(text[2:] if many else text[1:])
        if not parts:
            return
        if many:
            array = (*self._resolve(parts[:-1]), parts[-1])
            self.counts[array] = self.counts.get(array, -1) + 1
        self.table = self._resolve(parts)
        self._note(self.table, number)

    def pair(self, text: str, number: int) -> str:
        parts, at = _key(text)
        if not parts or not text[at:].lstrip().startswith("="):
            return ""
        self._note((*self.table, *parts), number)
        return text[text.index("=", at) + 1 :]


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line (from 1) of every table and key of a TOML text, as far as they can be found."""
    scanner = _Scanner()
    value = _Value()
    for number, line in enumerate(text.splitlines(), start=1):
        if value.open:
            value.follow(line)
            continue
        bare = line.strip()
        if bare.startswith("["):
            scanner.header(bare, number)
        elif bare and not bare.startswith("#"):
            value.follow(scanner.pair(bare, number))
    return scanner.lines
