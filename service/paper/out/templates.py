"""Empty sheets to be filled in: every column under its head, with what it takes."""

from collections.abc import Iterable

from service.kinds.registry import KINDS
from service.paper.out.tables import Written


def templates(names: Iterable[str] = ()) -> tuple[Written, ...]:
    """A sheet without rows for each kind, or for those named, with the short ways of saying a thing too."""
    wanted = frozenset(names)
    return tuple(Written(kind, kind.sheet_columns, ()) for kind in KINDS if not wanted or kind.name in wanted)
