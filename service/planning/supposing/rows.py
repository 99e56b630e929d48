"""Rows of a plan that are thought of and not stored, with the very names that stored ones have."""

from dataclasses import dataclass, fields
from typing import Any, Self


class _Row:
    """What is read from a row, stored or not, of the same names."""

    __slots__ = ()

    @classmethod
    def of(cls, row: Any) -> Self:
        return cls(**{f.name: getattr(row, f.name) for f in fields(cls)})  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Allotted(_Row):
    run_id: int
    supply_id: int | None
    supply_model_id: int | None
    output: int
    decoder_id: int | None
    decoder_model_id: int | None
    first_channel: int | None
    channels: int
    is_locked: bool


@dataclass(frozen=True, slots=True)
class Placed(_Row):
    unit_id: int
    place_id: int | None
    scenic_unit_id: int | None
    enclosure_id: int | None
    outlet_id: int | None
    line_id: int | None = None


@dataclass(frozen=True, slots=True)
class Patched(_Row):
    """`id` None: no stored row yet."""

    id: int | None
    decoder_id: int
    port: int
    universe: int | None
    start: int | None
    footprint: int | None
    mode: str
    pixels: int | None
    mirror: str
