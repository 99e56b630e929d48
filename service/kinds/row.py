"""One thing as it is written: the values of its columns, whichever door they came through."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TypeVar, cast

T = TypeVar("T")


@dataclass(slots=True)
class Row:
    """The values of one row by column key; a blank cell is absent. `name`: what the row is known by;
    `thing_id`: the number in the store of the thing it changes, None for a new one; `number`: in its sheet,
    None elsewhere."""

    sheet: str
    number: int | None
    values: dict[str, object]
    heads: dict[str, str]
    kind: str = ""
    name: str = ""
    is_broken: bool = False
    thing_id: int | None = None
    kept: frozenset[str] = frozenset()  # columns that are as they were before the change
    needed: frozenset[str] = frozenset()  # columns that may not be blank

    def has(self, key: str) -> bool:
        return key in self.values

    def text(self, key: str, default: str = "") -> str:
        return cast(str, self.values.get(key, default))

    def whole(self, key: str) -> int | None:
        return cast("int | None", self.values.get(key))

    def real(self, key: str) -> float | None:
        return cast("float | None", self.values.get(key))

    def um(self, key: str) -> int | None:
        return cast("int | None", self.values.get(key))

    def money(self, key: str) -> Decimal | None:
        return cast("Decimal | None", self.values.get(key))

    def day(self, key: str) -> date | None:
        return cast("date | None", self.values.get(key))

    def flag(self, key: str, default: bool) -> bool:
        return cast(bool, self.values.get(key, default))

    def maybe(self, key: str) -> bool | None:
        return cast("bool | None", self.values.get(key))

    def names(self, key: str) -> tuple[str, ...]:
        return cast("tuple[str, ...]", self.values.get(key, ()))

    def one_of(self, key: str, default: T) -> T:
        return cast(T, self.values.get(key, default))

    def each(self, key: str) -> tuple[object, ...]:
        """The values of a column that has one for each row of a part."""
        return cast("tuple[object, ...]", self.values.get(key, ()))
