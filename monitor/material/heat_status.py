"""The heat status of material under one rule, and what coming in does to it; it belongs to the material, not to readings.

| work | heat status after it |
|---|---|
| built | raw, then running from the first instant of the hold, met when the rule is met |
| added or merged: anything into raw | raw |
| added or merged: raw or running material into anything else | void from that instant; the hold begins anew there |
| added or merged: met into met, under the same rule | met |
| added or merged: met into running, at most 10 % | as before; above 10 %, or where an amount is not known, void |
| added or merged: met under another rule | as raw |
| split, moved | inherited |
| overs back into the batch they came from | as that batch; into another: as what they bring |

Where two rows fit, the upper one wins. Void lasts until the next instant of the hold, then it is running, then met anew.
Source: 21 CFR 112.51(b) as restated in La. Admin. Code 7:V-1211 (seen): a treated amendment that is recombined with an
untreated one is untreated. The 10 % are ours.
"""

from enum import StrEnum


class HeatStatus(StrEnum):
    """What the heat has done to material, as far as is proven; stored and shown, so never renamed."""

    RAW = "raw"
    RUNNING = "running"
    MET = "met"
    VOID = "void"


class Change(StrEnum):
    """What coming in does to what is counted of a batch."""

    NONE = "none"
    """Nothing: what was counted goes on counting."""
    UNLESS_MET = "unless met"
    """All begins anew, unless the batch has met the rule by then."""
    ANEW = "anew"
    """All begins anew: neither days nor turnings before it count."""


SMALL_SHARE_PERCENT = 10
"""So much met material may be thrown into a batch that is under way (ours)."""


def change_by(brought: HeatStatus, *, small: bool) -> Change:
    """Return what it does to a batch's count when material comes in.

    Args:
        brought: Its status under the batch's own rule at that instant; what is met under another rule is raw.
        small: Whether it is known to be at most 10 % of the batch.
    """
    if brought is not HeatStatus.MET:
        return Change.ANEW
    return Change.NONE if small else Change.UNLESS_MET


def after_coming_in(before: HeatStatus, brought: HeatStatus, *, small: bool) -> HeatStatus:
    """Return a batch's status right after material came in; arguments as for `change_by`, `before` is the batch's own."""
    change = change_by(brought, small=small)
    if before is HeatStatus.RAW or change is Change.NONE or (change is Change.UNLESS_MET and before is HeatStatus.MET):
        return before
    return HeatStatus.VOID


def status_of_record(*, met: bool, holding: bool, held_before: bool) -> HeatStatus:
    """Return the status that a record comes to.

    Args:
        met: Whether the rule is met by what counts.
        holding: Whether there was an instant of the hold since all last began anew.
        held_before: Whether there was one before that.
    """
    if met:
        return HeatStatus.MET
    if holding:
        return HeatStatus.RUNNING
    return HeatStatus.VOID if held_before else HeatStatus.RAW
