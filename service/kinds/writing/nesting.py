"""Rows that name another row of their own sheet, in an order in which each finds the one it names."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from service.kinds.row import Row
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Nested:
    """A row, the tag of what it makes or changes, and the column that names what that is part of."""

    row: Row
    tag: str
    column: str

    @property
    def around(self) -> str:
        return tag_key(self.row.text(self.column))


def turns(rows: Sequence[Nested]) -> tuple[list[list[Nested]], list[Nested]]:
    """The rows turn by turn, each after the row it names, and those that go round in a circle. What hangs on
    a circle is in neither: it comes right once the circle is mended."""
    own = {tag_key(each.tag) for each in rows} - {""}
    parts: dict[str, list[Nested]] = defaultdict(list)
    turn: list[Nested] = []
    for each in rows:
        (parts[each.around] if each.around in own else turn).append(each)
    found = []
    while turn:
        found.append(turn)
        turn = [part for each in turn for part in parts.pop(tag_key(each.tag), ())]
    return found, _circles([each for left in parts.values() for each in left])


def _circles(rows: list[Nested]) -> list[Nested]:
    """What is left when everything that nothing else hangs on is taken away, again and again."""
    hanging = Counter(each.around for each in rows)
    by_tag = {tag_key(each.tag): each for each in rows}
    loose = [tag for tag in by_tag if not hanging[tag]]
    while loose:
        around = by_tag.pop(loose.pop()).around
        hanging[around] -= 1
        if not hanging[around] and around in by_tag:
            loose.append(around)
    return [each for each in rows if tag_key(each.tag) in by_tag]
