"""The few exceptions that cross a boundary; each says who is at fault.

Faults that are expected in the field (a torn frame, a silent probe, a clock that steps) are never exceptions: they are
values, kept and counted. An exception means that somebody has to change something.
"""


class MonitorError(Exception):
    """Base of all errors that a person sees as one sentence; never raised itself."""


class MisuseError(MonitorError):
    """The person asked for something that makes no sense (exit code 2)."""


class FieldError(MisuseError):
    """The value of one field of a form makes no sense; `field` is its name, so that the form can point at it."""

    def __init__(self, words: str, field: str) -> None:
        """Keep the sentence and the field."""
        self.field = field
        super().__init__(words)


class ConfigurationError(MisuseError):
    """The configuration is wrong; `problems` lists every fault, one sentence each."""

    def __init__(self, problems: list[str]) -> None:
        """Keep the sentences; the exception's own text joins them, one a line."""
        self.problems = problems
        super().__init__("\n".join(problems))


class UnavailableError(MonitorError):
    """Something outside failed: disk, network, a lock that another process holds (exit code 3)."""


class InvariantError(MonitorError):
    """The program contradicts itself; it stops rather than certify something false."""
