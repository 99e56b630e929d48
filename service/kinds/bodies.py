"""What the API takes for a kind of thing: a model made from its columns, so that a range, a choice or a unit
is said once for every door."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from types import GenericAlias
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainValidator,
    ValidationError,
    WithJsonSchema,
    WrapValidator,
    create_model,
)

from service.errors import BadQuantity, BadRequest, BadValues, RowError
from service.kinds.cells import MAX_TAG, MAX_TEXT, read_cell
from service.kinds.columns import Column, Form
from service.kinds.expected import expected
from service.kinds.kind import Kind, Part, Values
from service.store.base import sound
from service.units import unit_text

_NUMBERS = {Form.WHOLE: "integer", Form.NUMBER: "number", Form.SHARE: "number", Form.QUANTITY: "number",
            Form.LENGTH: "number", Form.MONEY: "number", Form.INGRESS: "integer"}  # fmt: skip


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
        if isinstance(value, str) and not sound(value).strip():
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


_TEXT_TOO = {Form.QUANTITY, Form.LENGTH, Form.MONEY, Form.INGRESS}  # "320 W", "16 ft", "84.00", "IP20"


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
    if form is Form.MOMENT:
        return {"type": "string", "format": "date-time"}
    if form is Form.DATE:
        return {"type": "string", "format": "date"}
    if form is Form.TAG:
        return {"type": "string", "minLength": 1, "maxLength": MAX_TAG,
                "pattern": "^[A-Za-z0-9][A-Za-z0-9._+-]*$"}  # fmt: skip
    if form not in _NUMBERS:
        least = {"minLength": 1} if column.required else {}
        return {"type": "string"} | least | {"maxLength": int(column.high or MAX_TEXT)}
    figure: dict[str, Any] = {"type": _NUMBERS[form]} | _range(column)
    if form not in _TEXT_TOO:
        return figure
    return {"anyOf": [figure, {"type": "string", "maxLength": 40}]}


def _range(column: Column) -> dict[str, float]:
    factor = 1_000.0 if _field_unit(column) == "mm" else 1.0
    if column.form is Form.SHARE:
        return {"exclusiveMinimum": 0, "maximum": 1}
    ends = {"minimum": column.low, "maximum": column.high}
    whole = column.form in (Form.WHOLE, Form.INGRESS)
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


def _is_text(column: Column) -> bool:
    """Whether it holds several values, so that the API takes it as the text of a sheet's cell."""
    return column.many or column.form in (Form.EMITTERS, Form.RUNS)


def text_reader(column: Column) -> Callable[[Any], object]:
    """The same for the text of a cell with several values: "5 m; 3 x 2 m"."""

    def read(value: Any) -> object:
        if not isinstance(value, str):
            raise ValueError("text is expected, as it would stand in a sheet")
        if not sound(value).strip():
            return None
        try:
            return read_cell(value, column, column.bare_unit or None)
        except BadQuantity as refusal:
            raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal

    return read


def _plain_field(column: Column, is_needed: bool) -> tuple[Any, Any]:
    if _is_text(column):
        schema: dict[str, Any] = {"type": "string", "maxLength": 4_000}
        kind: Any = Annotated[Any, PlainValidator(text_reader(column)), WithJsonSchema(schema)]
        said = f"{_doc(column)}; as text, as in a sheet"
        return kind | None, Field(None, description=said, examples=[column.example or "1; 2"])
    kind = Annotated[Any, PlainValidator(reader(column)), WithJsonSchema(json_schema(column))]
    if not column.required:
        kind = kind | None
    return kind, Field(... if is_needed else None, description=_doc(column), examples=_example(column))


def _shape(columns: Sequence[Column], parts: Sequence[Part], name: str, is_change: bool) -> dict[str, Any]:
    names = {part.name for part in parts}
    shape: dict[str, Any] = {
        column.api_name: _plain_field(column, column.required and not is_change)
        for column in columns
        if column.api_name not in names and not (is_change and column.is_fixed)
    }
    for part in parts:
        texts = {c.api_name: c for c in columns if c.part == part.name}
        row = create_model(
            f"{name}{part.name.title().replace('_', '')}",
            __base__=Body,
            **_shape(part.columns, part.parts, name, False),
        )
        rows: Any = Annotated[GenericAlias(list, (row,)), Field(max_length=400)]
        said = part.doc
        if part.name in texts:
            rows = Annotated[rows, WrapValidator(_or_text(texts[part.name])), _or_text_schema()]
            said += "; or as text, as in a sheet"
        is_needed = not is_change and any(c.required for c in texts.values())
        shape[part.name] = (rows, Field(... if is_needed else None, description=said))
    return shape


def _or_text(column: Column) -> Callable[[Any, Callable[[Any], Any]], Any]:
    """Rows, or the text that stands for them in a sheet, which is marked as such."""

    def read(value: Any, rows: Callable[[Any], Any]) -> Any:
        if not isinstance(value, str):
            return rows(value)
        try:
            return Cell(read_cell(value, column, column.bare_unit or None))
        except BadQuantity as refusal:
            raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal

    return read


@dataclass(frozen=True, slots=True)
class Cell:
    """The value of a part's own column, given as text in place of its rows."""

    value: object


def _or_text_schema() -> Any:
    def widened(schema: Any, handler: Any) -> Any:
        return {"anyOf": [handler(schema), {"type": "string", "minLength": 1, "maxLength": 4_000}]}

    class OrText:
        __get_pydantic_json_schema__ = staticmethod(widened)

    return OrText()


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
    names = {part.name for part in parts}
    values: Values = {
        c.key: given[c.api_name] for c in columns if c.api_name in given and c.api_name not in names
    }
    for part in parts:
        if part.name not in given:
            continue
        own = [c for c in columns if c.part == part.name]
        if isinstance(given[part.name], Cell):
            (column,) = (c for c in own if c.api_name == part.name)
            values[column.key] = given[part.name].value
            continue
        both = next((c for c in own if c.key in values), None)
        if both is not None:
            raise BadRequest(f"{part.name} and {both.api_name} are both given", "Keep one way of saying it.")
        rows = [_said(part.columns, part.parts, row) for row in given[part.name] or []]
        spread = {key: _known(value) for key, value in part.spread(rows).items()}
        values |= dict.fromkeys((c.key for c in own if not c.is_short), None) | spread
    return values


def _known(value: object) -> object:
    """Nothing for a figure that no row of a part has."""
    is_blank = isinstance(value, tuple) and value and all(each in (None, "") for each in value)
    return None if is_blank else value


def taken(kind: Kind, given: Mapping[str, Any], is_new: bool) -> Values:
    """What a plain mapping says, as a body would, for callers not come over HTTP. Raises BadValues."""
    shape = new_body(kind) if is_new else change_body(kind)
    try:
        return said(kind, shape.model_validate(given))
    except ValidationError as error:
        raise BadValues([_fault(kind, fault) for fault in error.errors()]) from error


def _fault(kind: Kind, fault: Any) -> RowError:
    where = ".".join(str(step) for step in fault["loc"])
    message = expected(fault)
    if fault["type"] == "extra_forbidden":
        known = ", ".join(dict.fromkeys(c.api_name for c in kind.columns))
        return RowError(kind.name, None, where, f"{fault['loc'][-1]} is not known here", f"Known: {known}.")
    if fault["type"] == "missing":
        return RowError(kind.name, None, where, f"{fault['loc'][-1]} is missing", "Give it a value.")
    message, _, mend = message.partition(". ")
    return RowError(kind.name, None, where, message, mend or "Correct it.")
