"""A form is one row of a sheet: the same columns, the same reading of what is typed."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from service.errors import BadQuantity, BadValues, RowError
from service.kinds.cells import read_cell
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind, Values
from service.kinds.written import cell_text, head_text

LONGEST = 2_000
_BARE = {Form.RUNS: "mm"}
Say = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to fill in. `control`: how it is asked; `fault`: what is wrong with what was typed; `now`:
    what somebody else has put there meanwhile (None: nothing else than what was typed)."""

    key: str
    label: str
    doc: str
    control: str  # text, choice, yes-no, day or long
    value: str
    choices: tuple[str, ...]
    example: str
    default: str
    required: bool
    for_plan: bool
    fault: str = ""
    now: str | None = None


def columns_asked(kind: Kind, is_new: bool) -> list[Column]:
    """What may be said of a thing; of one that is there, not what is said once and for all."""
    return [c for c in kind.columns if not c.is_short and (is_new or not c.is_fixed)]


def fields(
    columns: Iterable[Column], typed: Mapping[str, str], faults: Iterable[RowError] = ()
) -> list[Field]:
    wrong = {fault.column: _said(fault) for fault in faults if fault.column}
    return [_field(c, typed.get(c.key, ""), wrong) for c in columns]


def beside(form: Iterable[Field], now: Mapping[str, str]) -> list[Field]:
    """The form as it was typed, with what stands now wherever that is something else."""
    return [f if _plain(f.value) == _plain(now[f.key]) else replace(f, now=now[f.key]) for f in form]


def _plain(text: str) -> str:
    """Lines as every browser sends them, and yes and no as a form asks for them."""
    said = "\n".join(text.strip().splitlines())
    return {"True": "yes", "False": "no"}.get(said, said)


def loose(form: Iterable[Field], faults: Iterable[RowError]) -> list[RowError]:
    """The faults that no field of the form shows."""
    shown = {field.fault for field in form}
    return [fault for fault in faults if _said(fault) not in shown]


def _said(fault: RowError) -> str:
    return f"{fault.message}. {fault.mend}"


def _field(column: Column, value: str, wrong: Mapping[str, str]) -> Field:
    fault = next((wrong[n] for n in (column.key, column.name, column.api_name) if n in wrong), "")
    return Field(
        column.key, head_text(column), column.doc, _control(column), value, column.values, column.example,
        column.default, column.required, column.for_plan, fault,
    )  # fmt: skip


def _control(column: Column) -> str:
    if column.form is Form.CHOICE and not column.many:
        return "choice"
    if column.form is Form.YES_NO and not column.many:
        return "yes-no"
    if column.form is Form.DATE:
        return "day"
    return "long" if column.form is Form.TEXT and (column.high or 0) > 120 else "text"


def texts(columns: Iterable[Column], values: Mapping[str, object]) -> dict[str, str]:
    """What stands in the store, as it would be typed."""
    return {c.key: cell_text(c, values.get(c.key)) for c in columns}


def read(columns: Iterable[Column], typed: Mapping[str, str], is_new: bool, say: Say) -> Values:
    """What was typed, as values; None empties one of a thing that is there. Raises BadValues."""
    values: Values = {}
    faults = []
    for column in columns:
        text = typed.get(column.key, "").strip()[:LONGEST]
        if not text:
            if column.required:
                mend = say("form-is-blank-mend", what=column.doc.rstrip("."))
                faults.append(RowError("", None, column.key, say("form-is-blank"), mend))
            elif not is_new:
                values[column.key] = None
            continue
        try:
            values[column.key] = read_cell(text, column, _bare(column))
        except BadQuantity as refusal:
            faults.append(RowError("", None, column.key, refusal.message, refusal.mend))
    if faults:
        raise BadValues(faults)
    return values


def _bare(column: Column) -> str | None:
    """The unit of a bare figure: the one that stands in the field's label."""
    return _BARE.get(column.form) or column.unit or None
