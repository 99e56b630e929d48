"""What the API takes for a kind of thing: a model made from its columns, so that a range, a choice or a unit
is said once for every door."""

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from functools import lru_cache
from types import GenericAlias
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema, create_model

from service.errors import BadQuantity
from service.kinds.cells import MAX_TAG, MAX_TEXT, read_cell
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind, Part, Values
from service.units import unit_text

_NUMBERS = {Form.WHOLE: "integer", Form.NUMBER: "number", Form.SHARE: "number", Form.QUANTITY: "number",
            Form.LENGTH: "number", Form.MONEY: "number"}  # fmt: skip


class Body(BaseModel):
    """Only what is named is taken; a name that is not known is refused."""

    model_config = ConfigDict(extra="forbid")


def _field_unit(column: Column) -> str:
    """The unit of a bare number in the API: that of the field's name."""
    if column.form is Form.LENGTH:
        return "mm" if column.api_name.endswith("_mm") else "m"
    return column.unit


def reader(column: Column) -> Callable[[Any], object]:
    """A JSON value becomes the column's value, as a cell would; a refusal keeps its mend."""

    def read(value: Any) -> object:
        if column.form is Form.YES_NO:
            if not isinstance(value, bool):
                raise ValueError("true or false is expected")
            return value
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError("one value is expected" if value is not None else "it may not be null")
        if isinstance(value, str) and ("\x00" in value or not value.isprintable()):
            raise ValueError("text without control characters is expected")
        if isinstance(value, str) and not value.strip():
            if column.required:
                raise ValueError("it may not be blank")
            return None
        if isinstance(value, str) and column.form in _NUMBERS and column.form not in _TEXT_TOO:
            raise ValueError("a number is expected")
        if not isinstance(value, str) and column.form not in _NUMBERS:
            raise ValueError("text is expected")
        try:
            return read_cell(_scaled(value, column), column, _field_unit(column) or None)
        except BadQuantity as refusal:
            raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal

    return read


_TEXT_TOO = {Form.QUANTITY, Form.LENGTH, Form.MONEY}  # "320 W", "16 ft", "84.00"


def _scaled(value: str | int | float, column: Column) -> str | int | float:
    if column.scale == 1.0 or isinstance(value, str):
        return value
    return float(Decimal(str(value)) * Decimal(str(column.scale)))


def json_schema(column: Column) -> dict[str, Any]:
    """What the published schema says of a column's values."""
    form = column.form
    if form is Form.YES_NO:
        return {"type": "boolean"}
    if form is Form.CHOICE:
        return {"type": "string", "enum": list(column.values)}
    if form is Form.DATE:
        return {"type": "string", "format": "date"}
    if form is Form.TAG:
        return {"type": "string", "minLength": 1, "maxLength": MAX_TAG,
                "pattern": "^[A-Za-z0-9][A-Za-z0-9._+-]*$"}  # fmt: skip
    if form not in _NUMBERS:
        least = {"minLength": 1} if column.required else {}
        return {"type": "string"} | least | {"maxLength": int(column.high or MAX_TEXT)}
    figure: dict[str, Any] = {"type": _NUMBERS[form]} | _range(column)
    if form not in _TEXT_TOO or not (column.unit or form is Form.MONEY):
        return figure
    return {"anyOf": [figure, {"type": "string", "maxLength": 40}]}


def _range(column: Column) -> dict[str, float]:
    factor = 1_000.0 if _field_unit(column) == "mm" else 1.0
    if column.form is Form.SHARE:
        return {"exclusiveMinimum": 0, "maximum": 1}
    ends = {"minimum": column.low, "maximum": column.high}
    whole = column.form is Form.WHOLE
    return {
        name: int(end) if whole else end * factor / column.scale
        for name, end in ends.items()
        if end is not None
    }


def _doc(column: Column) -> str:
    unit = _field_unit(column) if column.scale == 1.0 else ""
    said = f"{column.doc}, in {unit_text(unit)}" if unit else column.doc
    if column.form in (Form.QUANTITY, Form.LENGTH) and unit:
        said += ", or text with its own unit"
    return f"{said}; if it is left out: {column.default}" if column.default else said


def _example(column: Column) -> list[Any]:
    if not column.example:
        return []
    value = read_cell(column.example, column, column.bare_unit or None)
    if column.form is Form.LENGTH:
        return [int(str(value)) / (1_000 if _field_unit(column) == "mm" else 1_000_000)]
    if isinstance(value, float):
        return [value / column.scale]
    return [value] if isinstance(value, bool | int) else [column.example]


def _shape(columns: Sequence[Column], parts: Sequence[Part], name: str, is_change: bool) -> dict[str, Any]:
    shape: dict[str, Any] = {}
    for column in columns:
        if column.is_short or column.part or (is_change and column.is_fixed):
            continue
        schema = json_schema(column)
        is_needed = column.required and not is_change
        kind: Any = Annotated[Any, PlainValidator(reader(column)), WithJsonSchema(schema)]
        if not column.required:
            kind = kind | None
        default: Any = ... if is_needed else None
        shape[column.api_name] = (kind, Field(default, description=_doc(column), examples=_example(column)))
    for part in parts:
        row = create_model(
            f"{name}{part.name.title().replace('_', '')}",
            __base__=Body,
            **_shape(part.columns, part.parts, name, False),
        )
        rows: Any = GenericAlias(list, (row,))
        is_needed = not is_change and any(c.required for c in columns if c.part == part.name)
        shape[part.name] = (rows, Field(... if is_needed else None, description=part.doc, max_length=400))
    return shape


@lru_cache
def new_body(kind: Kind) -> type[Body]:
    """What makes a new thing of the kind."""
    name = f"New{_camel(kind)}"
    return create_model(name, __base__=Body, __doc__=f"A new one: {kind.row_is}.",
                        **_shape(kind.columns, kind.parts, name, False))  # fmt: skip


@lru_cache
def change_body(kind: Kind) -> type[Body]:
    """What changes a thing of the kind: only what is named; null empties what may be empty."""
    name = f"{_camel(kind)}Change"
    return create_model(name, __base__=Body, __doc__=f"What is to be changed of {kind.row_is}.",
                        **_shape(kind.columns, kind.parts, name, True))  # fmt: skip


def _camel(kind: Kind) -> str:
    assert kind.listing is not None
    return "".join(word.capitalize() for word in kind.listing.one.partition(" ")[2].replace("-", " ").split())


def said(kind: Kind, body: Body) -> Values:
    """What a body names, as values by column key; None where it empties the column."""
    return _said(kind.columns, kind.parts, body)


def _said(columns: Sequence[Column], parts: Sequence[Part], body: BaseModel) -> Values:
    given = {name: getattr(body, name) for name in body.model_fields_set}
    values: Values = {c.key: given[c.api_name] for c in columns if c.api_name in given and not c.part}
    for part in parts:
        if part.name in given:
            spread: Mapping[str, object] = part.spread(
                [_said(part.columns, part.parts, row) for row in given[part.name] or []]
            )
            values |= dict.fromkeys((c.key for c in columns if c.part == part.name and not c.is_short), None)
            values |= spread
    return values
