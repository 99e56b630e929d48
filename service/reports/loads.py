"""What hangs on every supply output, beside what it may carry."""

from collections.abc import Iterable

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.limits.basis import together
from service.limits.cautions import FIRE, HEAT, SCOPE
from service.limits.facts import OutputFacts, ShowFacts, SupplyFacts
from service.limits.findings import SLACK
from service.limits.policy import Policy
from service.planning.snapshot.house import read_policy
from service.reports.report import Report, ReportAsk, counted, shows_of


class Row(BaseModel):
    """One output of a supply or battery. The watt figures are those of the whole supply."""

    production: str = Field(description="show code")
    supply: str = Field(description="tag of the supply or battery")
    model: str = Field(description="tag of its model")
    kind: str = Field(description="supply or battery")
    place: str = Field(default="", description="tag of the place")
    outlet: str = Field(default="", description="tag of the outlet")
    output: int = Field(description="output of the supply, from 1")
    elements: list[str] = Field(default=[], description="tags of the elements on this output")
    output_w: float = Field(description="watts on this output")
    supply_w: float = Field(description="watts on the whole supply")
    limit_w: float | None = Field(
        None, description="watts the whole supply may give for hours; None: not known"
    )
    supply_pct: float | None = Field(
        default=None, description="load of the whole supply as a percentage of its limit"
    )
    load_a: float = Field(description="amps on this output")
    limit_a: float | None = Field(None, description="amps this output may carry for hours; None: not known")
    output_pct: float | None = Field(
        default=None, description="amps of the output as a percentage of its limit"
    )
    verdict: str = Field(description="ok, over, or unknown where a limit is not known")
    load_basis: str = Field(
        default="", description="what the watts rest on: nominal, or what was measured, when and by whom"
    )


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    policy = read_policy(session)
    return [row for show in shows_of(session, ask) for row in of_show(show, policy)]


def of_show(show: ShowFacts, policy: Policy) -> list[Row]:
    """The loads of one production; outputs with nothing on them only on supplies that carry something."""
    return list(_rows(show, policy))


def _rows(show: ShowFacts, policy: Policy) -> Iterable[Row]:
    for supply in show.supplies:
        limit_w = _supply_limit_w(supply)
        for output in supply.outputs:
            limit_a = _output_limit_a(supply, output, policy)
            yield Row(
                production=show.production,
                supply=supply.tag,
                model=supply.model,
                kind=supply.kind,
                place=supply.place,
                outlet=supply.outlet or "",
                output=output.number,
                elements=list(dict.fromkeys(load.element for load in output.loads)),
                output_w=round(output.load_w, 6),
                supply_w=round(supply.load_w, 6),
                limit_w=None if limit_w is None else round(limit_w, 6),
                supply_pct=_pct(supply.load_w, limit_w),
                load_a=round(output.load_a, 6),
                limit_a=None if limit_a is None else round(limit_a, 6),
                output_pct=_pct(output.load_a, limit_a),
                verdict=_verdict((supply.load_w, limit_w), (output.load_a, limit_a)),
                load_basis=together((load.element, load.basis) for load in output.loads),
            )


def _supply_limit_w(supply: SupplyFacts) -> float | None:
    if supply.kind == "battery":
        caps = [o.cap_a for o in supply.outputs]
        return None if None in caps else sum(c or 0.0 for c in caps) * supply.class_v
    return supply.limit_w


def _output_limit_a(supply: SupplyFacts, output: OutputFacts, policy: Policy) -> float | None:
    if output.cap_a is None:
        return None
    return output.cap_a if supply.kind == "battery" else output.cap_a * policy.output_factor


def _pct(value: float, limit: float | None) -> float | None:
    return None if not limit else round(100.0 * value / limit, 1)


def _verdict(*pairs: tuple[float, float | None]) -> str:
    if any(limit is not None and value > limit * (1.0 + SLACK) for value, limit in pairs):
        return "over"
    return "unknown" if any(limit is None for _, limit in pairs) else "ok"


REPORT = Report("loads", "Load on every supply output", Row, rows, counted, (FIRE, HEAT, SCOPE))
