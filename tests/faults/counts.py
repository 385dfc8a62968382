"""Counts what a run did, prints it as a table, and folds all that happened into one digest."""

import hashlib
from collections import Counter


class Counts:
    """What was done, by name; and the digest of all that happened, in order."""

    def __init__(self):
        self.of = Counter()
        self._digest = hashlib.sha256()

    def note(self, what, many=1, *, detail=""):
        self.of[what] += many
        self.happened(what, many, detail)

    def happened(self, *what):
        self._digest.update(repr(what).encode())

    def digest(self):
        return self._digest.hexdigest()

    def add(self, other):
        self.of.update(other.of)
        self.happened(other.digest())

    def table(self):
        wide = max(map(len, self.of), default=0)
        return "\n".join(f"{what:<{wide}}  {many:>12,}" for what, many in sorted(self.of.items()))
