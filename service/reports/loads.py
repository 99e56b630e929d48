"""What hangs on every supply output, beside what it may carry."""

from collections.abc import Callable, Iterable
from typing import Any

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.limits import boxed
from service.limits.basis import together
from service.limits.cautions import FIRE, HEAT, SCOPE
from service.limits.facts import ShowFacts, SupplyFacts
from service.limits.findings import Verdict
from service.limits.lookup import Lookup
from service.limits.policy import Policy
from service.limits.registry import binding, of_supplies
from service.planning.snapshot.house import read_policy
from service.reports.report import Report, ReportAsk, counted, shows_of
from service.stock.gear import GearKind


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
        None, description="watts the whole supply may give for hours where it stands; None: not known"
    )
    supply_pct: float | None = Field(
        default=None, description="load of the whole supply as a percentage of its limit"
    )
    load_a: float = Field(description="amps on this output")
    limit_a: float | None = Field(None, description="amps this output may carry for hours; None: not known")
    output_pct: float | None = Field(
        default=None, description="amps of the output as a percentage of its limit"
    )
    verdict: str = Field(
        description="ok, watch, over or unknown: the worst that any limit says of the supply or this output"
    )
    binds: str = Field(
        default="",
        description="code of the limit that says so; where all is in order, of the load nearest to its limit",
        examples=["box-heat"],
    )
    message: str = Field(default="", description="what is wrong, where something is")
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
    around = Lookup(show, policy)
    found = of_supplies(around)
    for supply in show.supplies:
        limit_w = limit_of(supply, around)
        for output in supply.outputs:
            limit_a = around.output_limit_a(supply, output)
            binds = binding(found, supply.tag, output.number)
            verdict = Verdict.OK if binds is None else binds.verdict
            if verdict is Verdict.OK and None in (limit_w, limit_a):
                binds, verdict = None, Verdict.UNKNOWN
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
                verdict=verdict.value,
                binds="" if binds is None else binds.code,
                message="" if binds is None or verdict is Verdict.OK else binds.message,
                load_basis=together((load.element, load.basis) for load in output.loads),
            )


def limit_of(supply: SupplyFacts, around: Lookup) -> float | None:
    """What the house lets it carry where it stands; a battery, what its outputs let through."""
    if supply.kind != "battery":
        return boxed.limit_w(supply, supply.load_w, around)
    caps = [around.output_limit_a(supply, output) for output in supply.outputs]
    return None if None in caps else sum(cap or 0.0 for cap in caps) * supply.class_v


def weigh_boxed(feed: dict[str, Any], around_of: Callable[[str], Lookup]) -> dict[str, Any]:
    """What feeds an element, with what its supplies in boxes may carry: the warmth of all that stands in one
    is the whole show's to tell. `around_of`: the show of a code, asked only where a supply is in a box."""
    for source in feed["sources"]:
        if source["enclosure"] and source["kind"] == GearKind.SUPPLY:
            around = around_of(feed["production"])
            supply = around.supplies.get(source["supply"])
            limit_w = None if supply is None else limit_of(supply, around)
            source["limit_w"] = None if limit_w is None else round(limit_w, 6)
            source["load_pct"] = _pct(source["load_w"], limit_w)
    return feed


def _pct(value: float, limit: float | None) -> float | None:
    return None if not limit else round(100.0 * value / limit, 1)


REPORT = Report("loads", "Load on every supply output", Row, rows, counted, (FIRE, HEAT, SCOPE))
