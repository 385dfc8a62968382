"""Effects: decisions of the engine. Written once, never taken back."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any


class EffectKind(StrEnum):
    """Kinds of effects."""

    PHASE = "phase"
    CONDITION = "condition"
    ALARM = "alarm"
    NOTICE = "notice"
    RULE = "rule"


class Occasion(StrEnum):
    """Why a notice goes out; the `axis` of a notice effect."""

    NEW = "new"
    REPEAT = "repeat"
    PASSED_ON = "passed on"
    GROUP = "group"
    DIGEST = "digest"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """An effect before the engine gives it its id.

    Attributes:
        place: Pile, bin, `ambient`, or "" for the yard as a whole.
        axis: `phase`; `thermal` or `moisture`; the alarm's id; the rule's id; the notice's occasion.
        before, after: States before and after (JSON keys `from` and `to`); None before the first. A notice's `after` is
            the contact.
        why: One sentence for people.
        since: When it became true, UTC ms (the decision is made at the effect's `at`).
        reason: Enum-like word for programs.
        probe: The probe that decided it, or "".
        values: Plain JSON, numbers with at most 3 decimals; the batch is named here. `AlarmValues` and `NoticeValues` say
            what an alarm's and a notice's are.
        text: The message, notices only.
    """

    place: str
    kind: EffectKind
    axis: str
    before: str | None
    after: str | None
    why: str
    since: int
    reason: str
    probe: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """A draft with its id: (`at`, `ordinal`)."""

    at: int
    ordinal: int
    draft: Draft
