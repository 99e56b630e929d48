"""The sheets of the whole house as heads and rows of text."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from service.errors import NotFound
from service.kinds.columns import Column
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.kinds.standing import VERSION, standing
from service.kinds.written import cell_text, head_text


@dataclass(frozen=True, slots=True)
class Written:
    """One sheet: its columns, the version last, and a row of text for each thing."""

    kind: Kind
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def heads(self) -> tuple[str, ...]:
        return tuple(head_text(column) for column in self.columns)


def columns_out(kind: Kind) -> tuple[Column, ...]:
    """Every column that is not just another way of saying what the others say."""
    return tuple(column for column in kind.sheet_columns if not column.is_short)


def everything_out(session: Session, names: Iterable[str] = ()) -> Iterator[Written]:
    """Each kind's sheet, or those named, in the order in which they can be brought in again."""
    wanted = frozenset(names)
    unknown = wanted - {kind.name for kind in KINDS}
    if unknown:
        known = ", ".join(kind.name for kind in KINDS)
        raise NotFound(f"there is no sheet {', '.join(sorted(unknown))}", f"Known: {known}.")
    for kind in KINDS:
        if kind.listing is None or (wanted and kind.name not in wanted):
            continue
        columns = columns_out(kind)
        rows = tuple(
            (*(cell_text(c, thing.values.get(c.key)) for c in columns), str(thing.version))
            for thing in standing(session, kind).values()
        )
        yield Written(kind, (*columns, VERSION), rows)
