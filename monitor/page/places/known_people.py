"""The people to pick from when something is written down: the contacts, and those who wrote before; from the record alone."""

from collections.abc import Iterable

from monitor.notices import clean
from monitor.page.ports import Look
from monitor.page.visitors.sessions import Visitor

NO_NAME = "somebody at "
"""How the record begins to name a person who gave no name."""
SOMEBODY_ELSE = "?"
"""What a form sends when none of the names is picked; `by_other` has the name then."""
MOST = 14


def signature(visitor: Visitor) -> str:
    """Return how the record names a visitor: by the name that they gave, or by where they are."""
    return visitor.name or NO_NAME + ("the yard's computer" if visitor.near else visitor.address)


def known_people(look: Look, more: Iterable[str] = ()) -> list[str]:
    """Return names to pick from: contacts in the order of the configuration, then who wrote last.

    Args:
        look: The look.
        more: Further names, such as those of readers of thermometers.
    """
    settings = look.engine.state.settings
    contacts = (settings.contact_name(one) for one in settings.contacts)
    found: dict[str, str] = {}
    for name in (*contacts, *look.authors(), *more):
        shown = clean(name, 40) if name.strip() else ""
        if shown and not shown.startswith(NO_NAME):
            found.setdefault(shown.casefold(), shown)
    return list(found.values())[:MOST]
