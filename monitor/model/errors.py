"""The few exceptions that cross a boundary; each says who is at fault.

What is expected in the field (a torn frame, a silent probe, a clock that steps) is never an exception: it is a
value, kept and counted. An exception means that somebody has to change something.
"""


class MonitorError(Exception):
    """Base of all errors that are told to a person as one sentence; never raised itself."""


class MisuseError(MonitorError):
    """The person asked for something that cannot be meant (exit code 2)."""


class FieldError(MisuseError):
    """One field of a form cannot be meant; `field` is its name, so that the form can point at it."""

    def __init__(self, words: str, field: str) -> None:
        """Keep the sentence and the field."""
        self.field = field
        super().__init__(words)


class ConfigurationError(MisuseError):
    """The configuration is wrong; `problems` lists every fault found, one sentence each."""

    def __init__(self, problems: list[str]) -> None:
        """Keep the sentences; the exception's own text is all of them, a line each."""
        self.problems = problems
        super().__init__("\n".join(problems))


class UnavailableError(MonitorError):
    """Something outside failed: disk, network, a lock that another process holds (exit code 3)."""


class InvariantError(MonitorError):
    """The program contradicts itself; it stops rather than certify something false."""
