"""The progress of a watched batch under its rule, kept up to date change by change.

It says at every instant what `judging` would say of the record up to there (a property test), and
yet it counts by sums of its own. One of the two could do the work of both; each way round costs more than it saves
(measured on 2026-11-30):

- Judging the hold set so far takes 0.3 to 1 ms for a rule of days, however little is new; the sums answer in 8 µs and take
  a change in within 11 µs. The replay of a quiet year asks 2,700 times in its 8 s, so it would take a third longer.
- Judging a whole record by these sums takes 11 µs a change: some 20 s for ten million readings of which 9 % cross the
  limit, where the columns take 0.2 s.
- What is remembered here is of a fixed size and lies in every snapshot; a hold set grows with each crossing, and cannot be
  made from the sums of a snapshot that was written before.

What both count alike (turnings, days with much recovery, the plain numbers) lies in `counting`.
"""

from monitor.proof.following.follower import RuleFollower, followed
from monitor.proof.following.part_state import PartState
from monitor.proof.following.tracker import HoldState, HoldTracker
