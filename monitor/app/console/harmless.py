"""Text that came from elsewhere, shown so that a terminal or a log shows it and never obeys it."""


def harmless(text: str) -> str:
    """Return a text as one line, with whatever is no printable character written out."""
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
