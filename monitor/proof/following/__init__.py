"""How far a batch is with its rule while it is watched: told of each change, it always knows."""

from monitor.proof.following.follower import RuleFollower, followed
from monitor.proof.following.part_progress import PartState
from monitor.proof.following.tracker import HoldState, HoldTracker

__all__ = [
    "HoldState",
    "HoldTracker",
    "PartState",
    "RuleFollower",
    "followed",
]
