"""Keeps the way back from a form within the page."""


def own_path(path: str) -> str:
    """Return a path of this page to go back to, or "/" if it leads elsewhere or takes only forms."""
    safe = (
        path.startswith("/") and not path.startswith(("//", "/\\", "/do/")) and "\\" not in path and path.isprintable()
    )
    return path if safe and len(path) < 300 else "/"
