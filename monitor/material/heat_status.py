"""The heat status of material under one rule, and its changes when other material comes in. No reading has one, only material.

| work | heat status after it |
|---|---|
| built | raw, then running from the first instant of the hold, met when the rule is met |
| added or merged: anything into raw | raw |
| added or merged: raw or running material into anything else | void from that instant; the hold begins anew there |
| added or merged: met into met, under the same rule | met |
| added or merged: met into running, at most 10 % | as before; above 10 %, or if an amount is not known, void |
| added or merged: met under another rule | as raw |
| split, moved | inherited |
| overs back into the batch they came from | as that batch; into another: as the material they bring |

If two rows fit, the upper one wins. Void lasts until the next instant of the hold, then it is running, then met anew.

Source: 21 CFR 112.51(b) as restated in La. Admin. Code 7:V-1211 (seen): a treated amendment that is recombined with an
untreated one is untreated. The 10 % are our choice.
"""

from enum import StrEnum


class HeatStatus(StrEnum):
    """The effect of the heat on material, as far as it is proven; stored and shown, so never renamed."""

    RAW = "raw"
    RUNNING = "running"
    MET = "met"
    VOID = "void"


class Change(StrEnum):
    """The effect of incoming material on a batch's count of days and turnings."""

    NONE = "none"
    """No effect: the count goes on."""
    UNLESS_MET = "unless met"
    """The count begins anew, unless the batch has met the rule by then."""
    ANEW = "anew"
    """The count begins anew: neither earlier days nor earlier turnings count."""


SMALL_SHARE_PERCENT = 10
"""Largest share of met material that may come into a batch under way without voiding it (our choice)."""


def change_by(brought: HeatStatus, *, small: bool) -> Change:
    """Decide the effect of incoming material on a batch's count.

    Args:
        brought: Its status under the batch's own rule at that instant; material that met another rule is raw.
        small: Whether it is known to be at most 10 % of the batch.
    """
    if brought is not HeatStatus.MET:
        return Change.ANEW
    return Change.NONE if small else Change.UNLESS_MET


def status_of_record(*, met: bool, holding: bool, held_before: bool) -> HeatStatus:
    """Work out the status at the end of a record.

    Args:
        met: Whether the rule is met by the days and turnings that count.
        holding: Whether there was an instant of the hold since the count last began anew.
        held_before: Whether there was an instant of the hold before that.

    Returns:
        The status of the material.
    """
    if met:
        return HeatStatus.MET
    if holding:
        return HeatStatus.RUNNING
    return HeatStatus.VOID if held_before else HeatStatus.RAW
