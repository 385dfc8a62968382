"""Says how soon a guesser would come to a password: common ones first, then runs, repetitions, the yard's name with a year.

Source: the estimate of guesses is that of the library zxcvbn, which holds 30,000 common passwords and words of English
(D. Wheeler, USENIX Security 2016, from memory).
"""

from collections.abc import Iterable

LEAST_GUESSES = 100_000_000
"""A guesser must need more tries than this. The page lets all together try sixty passwords an hour, so it lasts 190 years."""

_READ = 72
"""The library reads no more characters; who types more is not asked for more."""
_OURS = ("heaptender", "compost", "worms", "vermicompost")


def guesses(password: str, known: Iterable[str] = ()) -> int:
    """Return about how many tries a guesser needs for a password.

    Args:
        password: The password.
        known: Names that anybody near the yard knows.
    """
    from zxcvbn import zxcvbn  # noqa: PLC0415 (its lists take a third of a second to load)

    names = [name.lower() for name in known if name]
    parts = [part for name in names for part in (*name.split(), "".join(name.split()))]
    return int(zxcvbn(password[:_READ], user_inputs=[*_OURS, *names, *parts], max_length=_READ)["guesses"])


def guess_trouble(password: str, known: Iterable[str] = ()) -> str:
    """Return why a password is easily guessed; "" if it is not.

    Args:
        password: The password.
        known: Names that anybody near the yard knows.
    """
    tries = guesses(password, known)
    if tries > LEAST_GUESSES:
        return ""
    first = f"it is among the first {_rounded(tries)} that a guesser tries"
    return f"{first}; take four words that have nothing to do with each other"


def _rounded(tries: int) -> str:
    """Return a power of ten that is not smaller."""
    return f"{10 ** len(str(tries - 1)):,}" if tries > 1 else "10"
