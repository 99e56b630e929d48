"""The list of plans, as it is answered."""

from sqlalchemy import ColumnElement

from service.planning.records import Plan, PlanStatus
from service.season.queries import last_day
from service.season.records import Production
from service.store.listing import Field, Filter, Listing

PLANS = Listing(
    plural="plans",
    one="a plan",
    doc="Plans of a production, in the order they were asked for. The kept one is what the crew works from.",
    source=Plan.__table__.join(Production.__table__),
    id=Plan.id,
    version=Plan.version,
    key=Plan.id,
    order=(Plan.number, Plan.id),
    is_tagged=False,
    fields=(
        Field("production", Production.tag, "show code"),
        Field("number", Plan.number, "number of the plan, from 1"),
        Field("status", Plan.status, "queued, working, draft, kept, superseded, cancelled or failed"),
        Field("origin", Plan.origin, "allocator, sheets or hand"),
        Field("by", Plan.by, "who asked for it; not proven until people sign in"),
        Field("from_on", Plan.from_on, "first day gear is wanted"),
        Field("to_on", Plan.until_on, "last day gear is wanted", shown=last_day),
        Field("mend", Plan.mend, "whether kept feeds over a limit may be moved"),
        Field("cost", Plan.cost, "weight of the gear it newly takes; one supply is 1000"),
        Field("bound", Plan.bound, "no plan that feeds as much can weigh less (proven)"),
        Field("unfed_w", Plan.unfed_w, "left dark, in W"),
        Field("unfed_bound_w", Plan.unfed_bound_w, "no plan can leave less dark, in W (proven)"),
        Field("moved", Plan.moved, "kept runs that change output, decoder or channel"),
        Field("refed", Plan.refed, "runs whose gear is gone, fed again"),
        Field("is_proven", Plan.is_proven, "whether nothing better exists"),
        Field("stopped_early", Plan.stopped_early, "whether time ended it"),
        Field("seconds", Plan.seconds, "seconds it took"),
        Field("error", Plan.error, "why it failed"),
        Field("finished_at", Plan.finished_at, "when it was finished, UTC"),
        Field("kept_at", Plan.kept_at, "when it was kept, UTC"),
    ),
    filters=(Filter("status", Plan.status, "where it stands", PlanStatus),),
)


def of_production(production_id: int) -> ColumnElement[bool]:
    return Plan.production_id == production_id
