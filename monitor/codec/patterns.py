"""Extracts a probe's address and quantity from a topic, by a pattern such as `nodes/{probe}/{quantity}`.

Rules: 1. A pattern has as many levels as the topic, unless it ends in `#`, which stands for any further ones. 2. A
level is a word that must be equal, `+` (anything), or words around `{probe}` or `{quantity}`. 3. `{probe}` may stand in
several levels; their contents are joined by `/`.
"""

import re
from typing import NamedTuple

from monitor.codec.decoded import is_word

_TOPIC_CHARACTERS = 1024
_FIELD = re.compile(r"\{(\w*)\}")


class TopicAddress(NamedTuple):
    """The content of a topic: the address, and the quantity's word if the pattern has one."""

    address: str
    quantity: str | None


class TopicPattern:
    """A pattern, compiled once."""

    def __init__(self, pattern: str) -> None:
        """Compile a pattern.

        Raises:
            ValueError: The pattern has no `{probe}`, an unknown field, `{quantity}` twice, or `#` before its end.
        """
        fields = _FIELD.findall(pattern)
        strange = [name for name in fields if name not in ("probe", "quantity")]
        levels = pattern.split("/")
        if strange or "probe" not in fields or fields.count("quantity") > 1 or "#" in "".join(levels[:-1]):
            raise ValueError(f"{pattern!r} is not a topic pattern like nodes/{{probe}}/{{quantity}}")
        self.text = pattern
        self._open = levels[-1] == "#"
        self._levels = [_level(level) for level in (levels[:-1] if self._open else levels)]

    def match(self, topic: str) -> TopicAddress | None:
        """Return the content of a topic, or None if it does not fit or its parts are not printable."""
        if len(topic) > _TOPIC_CHARACTERS:
            return None
        parts = topic.split("/")
        if len(parts) < len(self._levels) or (len(parts) > len(self._levels) and not self._open):
            return None
        probes: list[str] = []
        quantity = None
        for level, part in zip(self._levels, parts, strict=False):
            found = level.fullmatch(part)
            if found is None:
                return None
            for name, text in found.groupdict().items():
                if name == "quantity":
                    quantity = text
                else:
                    probes.append(text)
        address = "/".join(probes)
        if not is_word(address) or (quantity is not None and not is_word(quantity)):
            return None
        return TopicAddress(address, quantity)


def _level(level: str) -> re.Pattern[str]:
    if level == "+":
        return re.compile(r".*", re.DOTALL)
    place = 0
    parts = []
    for count, found in enumerate(_FIELD.finditer(level)):
        parts.append(re.escape(level[place : found.start()]))
        name = "quantity" if found[1] == "quantity" else f"probe{count}"
        parts.append(f"(?P<{name}>.+?)")
        place = found.end()
    return re.compile("".join([*parts, re.escape(level[place:])]), re.DOTALL)
