"""Plans read back: one in full, and what two of them feed differently."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session, aliased

from service.planning.queries import basis_in_words, load_w
from service.planning.records import Allotment, Patch, Placing, Plan, UnfedRun
from service.season.records import Production
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, is_test_in_force
from service.shows.records import Element, Piece, Run
from service.stock.gear import GearModel, Unit
from service.stock.records import Outlet, Place, Tape


@dataclass(frozen=True, slots=True)
class Change:
    """One run that two plans feed differently; None is dark."""

    element: str
    run: int
    change: str
    before: str | None
    after: str | None


def plan_row(plan: Plan, production: Production) -> dict[str, Any]:
    """The figures of a plan, days inclusive as shown."""
    row = {
        name: getattr(plan, name)
        for name in (
            "number", "origin", "by", "from_on", "mend", "effort", "seed", "progress", "cost", "bound",
            "unfed_w", "unfed_bound_w", "moved", "refed", "is_proven", "stopped_early", "seconds", "error",
            "started_at", "finished_at", "kept_at", "version",
        )
    }  # fmt: skip
    return row | {
        "production": production.tag,
        "status": plan.status.value,
        "to_on": type(plan.until_on).fromordinal(plan.until_on.toordinal() - 1),
        "gap_pct": _gap_pct(plan),
        "notes": plan.notes or [],
    }


def _gap_pct(plan: Plan) -> float | None:
    """Weight of gear beyond the proven least, in percent; None where a plan might still feed more."""
    if plan.cost is None or plan.bound is None or (plan.unfed_w or 0.0) > (plan.unfed_bound_w or 0.0):
        return None
    if plan.cost <= plan.bound:
        return 0.0
    return round(100.0 * (plan.cost / plan.bound - 1.0), 3) if plan.bound else None


def plan_feeds(session: Session, plan: Plan) -> list[dict[str, Any]]:
    """Every allotment of a plan, by element and run."""
    supply, decoder = aliased(Unit), aliased(Unit)
    supply_model, decoder_model = GearModel.__table__.alias("sm"), GearModel.__table__.alias("dm")
    pitches = select(func.sum(Piece.cut_pitches)).where(Piece.run_id == Run.id).correlate(Run)
    rows = session.execute(
        select(
            Element.tag.label("element"), Run.number.label("run"), Allotment.output, Allotment.first_channel,
            Allotment.channels, Allotment.is_locked, Allotment.override_reason, supply.tag.label("supply"),
            supply_model.c.tag.label("any_supply"), decoder.tag.label("decoder"),
            decoder_model.c.tag.label("any_decoder"), Patch.universe, Patch.start, Place.tag.label("place"),
            Outlet.tag.label("outlet"), pitches.scalar_subquery().label("pitches"), Tape.pitch_um,
            *FIGURES,
        )
        .select_from(Allotment)
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(BenchTest, is_test_in_force())
        .outerjoin(supply, supply.id == Allotment.supply_id)
        .outerjoin(supply_model, supply_model.c.id == Allotment.supply_model_id)
        .outerjoin(decoder, decoder.id == Allotment.decoder_id)
        .outerjoin(decoder_model, decoder_model.c.id == Allotment.decoder_model_id)
        .outerjoin(
            Patch,
            and_(
                Patch.plan_id == Allotment.plan_id,
                Patch.decoder_id == Allotment.decoder_id,
                Patch.port.in_((0, Allotment.first_channel)),
            ),
        )
        .outerjoin(
            Placing, and_(Placing.plan_id == Allotment.plan_id, Placing.unit_id == Allotment.supply_id)
        )
        .outerjoin(Place, Place.id == Placing.place_id)
        .outerjoin(Outlet, Outlet.id == Placing.outlet_id)
        .where(Allotment.plan_id == plan.id)
        .order_by(Element.tag_key, Run.number)
    ).mappings()  # fmt: skip
    return [
        {
            "element": r["element"],
            "run": r["run"],
            "supply": r["supply"] or f"any {r['any_supply']}",
            "output": r["output"],
            "decoder": r["decoder"] or (f"any {r['any_decoder']}" if r["any_decoder"] else None),
            "first_channel": r["first_channel"],
            "last_channel": r["first_channel"] + r["channels"] - 1 if r["first_channel"] else None,
            "universe": r["universe"],
            "start": r["start"],
            "place": r["place"],
            "outlet": r["outlet"],
            "is_locked": r["is_locked"],
            "override_reason": r["override_reason"],
            "load_w": round(load_w(r), 6),
            "load_basis": basis_in_words(r),
        }
        for r in rows
    ]


def plan_unfed(session: Session, plan: Plan) -> list[dict[str, Any]]:
    """Every run a plan leaves dark, with the reason."""
    rows = session.execute(
        select(
            Element.tag.label("element"), Run.number.label("run"), UnfedRun.limit, UnfedRun.value,
            UnfedRun.bound, UnfedRun.unit, UnfedRun.because, UnfedRun.mend,
        )
        .join(Run, Run.id == UnfedRun.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(UnfedRun.plan_id == plan.id)
        .order_by(Element.tag_key, Run.number)
    ).mappings()  # fmt: skip
    return [dict(row) for row in rows]


def in_words(feed: dict[str, Any]) -> str:
    """A feed on one line: supply, output, decoder and channels."""
    text = f"{feed['supply']} output {feed['output']}"
    if feed["decoder"] is None:
        return f"{text}, straight on"
    first, last = feed["first_channel"], feed["last_channel"]
    return f"{text}, {feed['decoder']} channel {first}" + (f" to {last}" if last != first else "")


def changes(session: Session, before: Plan | None, after: Plan) -> list[Change]:
    """What `after` feeds differently from `before` (None: nothing was kept), by element and run."""
    old = {(f["element"], f["run"]): f for f in plan_feeds(session, before)} if before else {}
    new = {(f["element"], f["run"]): f for f in plan_feeds(session, after)}
    found = []
    for key in sorted(old.keys() | new.keys()):
        was, now = old.get(key), new.get(key)
        before_text = in_words(was) if was else None
        after_text = in_words(now) if now else None
        if before_text != after_text:
            what = "fed" if was is None else "dark" if now is None else "moved"
            found.append(Change(*key, what, before_text, after_text))
        elif was and now and (was["universe"], was["start"]) != (now["universe"], now["start"]):
            found.append(Change(*key, "address", _address(was), _address(now)))
    return found


def _address(feed: dict[str, Any]) -> str:
    if feed["start"] is None:
        return "no address"
    return f"universe {feed['universe']} address {feed['start']}"
