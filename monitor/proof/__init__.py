"""Rules of time and temperature, and how a batch's record is held against them; pure, integers only.

The rooms, from the ground up; each shows what others may use on its face:

- `rules`: rules as they are declared, and the files of those that come with the program.
- `intervals`: sets of instants, and exact arithmetic on them.
- `temperature`: a probe's accepted readings as straight lines, and their running mean.
- `holdset`: when a batch was proven, and when it was within a rule's limits.
- `governing`: the one line that governs a batch, and means over it.
- `counting`: how turnings and days are counted, asked by the next two alike.
- `judging`: what came of one part of a rule, by the hold set.
- `following`: how far a batch is with its rule while it is watched.
- `verdict`: the verdict on a whole record, with its reasons in words.
- `report`: what a certificate tells beside the verdict: each day, and what the heat kills.

One seam for readings: accepted ones only, in order of time, with the times in which each probe was in service.
"""
