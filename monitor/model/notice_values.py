"""The `values` of a notice, which only this module writes and reads."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.model.words import Priority


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeValues:
    """The facts about a notice that programs need.

    Attributes:
        priority: How soon somebody must act.
        keys: Of the alarms and notices that it tells of.
        channels: By which it goes to its contact; empty: the page shows it.
        alarm: The id of the one that it tells of, "" where it tells of several or of the yard.
        alarms: The ids of the several.
        batch: The batch that it is about, or "".
    """

    priority: Priority
    keys: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    alarm: str = ""
    alarms: tuple[str, ...] = ()
    batch: str = ""

    def plain(self) -> dict[str, Any]:
        """Return it as plain JSON, in the order of keys that exports show."""
        about: dict[str, Any] = {"alarm": self.alarm} if self.alarm else {}
        about |= {"alarms": [*self.alarms]} if self.alarms else {}
        found = {**about, "priority": self.priority.name.lower(), "keys": [*self.keys], "channels": [*self.channels]}
        return found | {"batch": self.batch} if self.batch else found

    @classmethod
    def of(cls, values: Mapping[str, Any]) -> "NoticeValues":
        """Return the values of a notice; a value that the record lacks or garbles gets its default."""
        priority = str(values.get("priority", "")).upper()
        return cls(
            priority=Priority.__members__.get(priority, Priority.MEDIUM),
            keys=keys_of(values),
            channels=tuple(str(one) for one in values.get("channels") or ()),
            alarm=str(values.get("alarm", "")),
            alarms=tuple(str(one) for one in values.get("alarms") or ()),
            batch=str(values.get("batch", "")),
        )


def keys_of(values: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the keys of the alarms and notices that a notice tells of."""
    return tuple(str(key) for key in values.get("keys") or ())
