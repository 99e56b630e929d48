"""The sheet of house rules: figures that replace the built-in ones, each within its range."""

from contextlib import suppress
from dataclasses import replace
from datetime import date

from sqlalchemy.orm import Session

from service.errors import BadQuantity, InUse
from service.kinds.cells import read_cell
from service.kinds.columns import Column, Form, text
from service.kinds.kind import Kind, Values
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.limits.policy import DEFAULT, PAIRS, RANGES, Figure, fault_between
from service.planning.snapshot.house import read_policy
from service.stock import queries
from service.stock.records import PolicyRow

_KINDS = {
    Figure.SHARE: Form.SHARE,
    Figure.RATIO: Form.NUMBER,
    Figure.SWITCH: Form.WHOLE,
    Figure.DAYS: Form.WHOLE,
}


def load_rules(rows: list[Row], ctx: Context, known: Known) -> None:
    """A rule that nothing reads would look as if it were in force, so unknown names are refused."""
    figures: dict[str, float] = {}
    kept: dict[str, Row] = {}
    for row in rows:
        name = row.text("rule")
        if name not in RANGES:
            ctx.refuse(
                row, "rule", f"{name} is not a rule of this house", f"Known: {', '.join(sorted(RANGES))}."
            )
        elif ctx.claim_name(known.rules, row, "rule"):
            kept[name] = row
            _take(row, name, ctx, figures)
    _refuse_conflicts(ctx, kept, figures)
    ctx.put(
        PolicyRow,
        [
            {
                "id": kept[name].thing_id,
                "name": name,
                "value": f"{figure:.12g}",
                "unit": kept[name].text("unit"),
                "reason": kept[name].text("reason"),
            }
            for name, figure in figures.items()
        ],
    )


def _take(row: Row, name: str, ctx: Context, figures: dict[str, float]) -> None:
    """Adds the row's figure, in the unit of its rule, or refuses it."""
    allowed = RANGES[name]
    try:
        figures[name] = _figure(name, row.text("value"))
    except BadQuantity as refusal:
        mend = refusal.mend if "range" not in refusal.message else ""
        also = f"{name} goes {allowed}; the built-in figure is {getattr(DEFAULT, name):g}."
        ctx.refuse(row, "value", refusal.message, f"{mend} {also}".strip())


def _figure(name: str, value: str) -> float:
    """Raises BadQuantity for what is no figure, of another unit or out of the rule's range."""
    allowed = RANGES[name]
    unit = "" if allowed.figure in _KINDS else allowed.figure.value
    kind = _KINDS.get(allowed.figure, Form.QUANTITY)
    column = Column("Value", kind, "", unit=unit, low=allowed.low, high=allowed.high)
    return float(str(read_cell(value, column, unit or None)))


def _refuse_conflicts(ctx: Context, kept: dict[str, Row], figures: dict[str, float]) -> None:
    """Figures that are each in range may still contradict each other, or one in the store."""
    for lower, upper in PAIRS:
        about = next((kept[name] for name in (lower, upper) if name in figures), None)
        fault = "" if about is None else fault_between(replace(read_policy(ctx.session), **figures))
        if about is not None and lower in fault:
            ctx.refuse(about, "value", fault, f"Give both, the lower one for {lower}.")


def retire_rule(session: Session, rule: PolicyRow, _today: date) -> None:
    """The built-in figure takes its place, unless it would contradict another rule of the house."""
    fault = fault_between(replace(read_policy(session), **{rule.name: getattr(DEFAULT, rule.name)}))
    if fault:
        raise InUse(f"without {rule.name} the built-in figure counts again, and {fault}", "Change both.")


def _plain_rule(values: Values) -> Values:
    """The figure as it is kept: 80 % and 0.80 are both 0.8. One that cannot be is refused later."""
    name, value = str(values.get("rule")), values.get("value")
    if name in RANGES and isinstance(value, str):
        with suppress(BadQuantity):
            values["value"] = f"{_figure(name, value):.12g}"
    return values


RULES = Kind(
    "house rules",
    "a house default that replaces the built-in one",
    (
        text("Rule", "Its name", 80, required=True, example="load_factor", also=("name",), is_fixed=True),
        text("Value", "The figure; a share as 0.8 or 80 %", 40, required=True, example="0.8"),
        text("Unit", "What the figure counts, for readers", 60),
        text("Reason", "Why the house differs", 200),
    ),
    load_rules,
    "house rule",
    ("rule",),
    ("policies", "rules"),
    listing=queries.HOUSE_RULES,
    record=PolicyRow,
    retire=retire_rule,
    plain=_plain_rule,
)
