"""The list of cut plans."""

from typing import Any

from sqlalchemy import case, func, select

from service.planning.cutting.records import CutPlan, CutPlanShow, CutPlanStatus, CutStep
from service.season.records import Production
from service.store.listing import Child, Field, Filter, Listing, millimetres


def _count(of: Any) -> Any:
    return (
        select(func.count(of)).where(CutStep.cut_plan_id == CutPlan.id).correlate(CutPlan).scalar_subquery()
    )


def _codes(rows: list[dict[str, Any]]) -> str:
    return " ".join(row["production"] for row in rows)


CUT_PLANS = Listing(
    plural="cut-plans",
    one="a cut plan",
    doc="Plans of which piece comes off which reel, in the order they were asked for. The bench works from "
    "the kept ones.",
    source=CutPlan,
    id=CutPlan.id,
    version=CutPlan.version,
    key=CutPlan.id,
    order=(CutPlan.id,),
    is_tagged=False,
    fields=(
        Field("number", CutPlan.number, "its number on paper; its address"),
        Field(
            "status", CutPlan.status, "draft (without seconds: at work), kept, done, superseded or abandoned"
        ),
        Field("by", CutPlan.made_by, "who asked for it; not proven until people sign in"),
        Field("as_of", CutPlan.as_of, "day it was worked out for"),
        Field("keep_mm", millimetres(CutPlan.keep_um), "the shortest offcut worth keeping, in mm"),
        Field("steps", _count(CutStep.id), "cuts in it, scrap included", kind=int, is_blank=False),
        Field(
            "done", _count(case((CutStep.cut_id.is_not(None), 1))), "those marked", kind=int, is_blank=False
        ),
        Field("is_proven", CutPlan.is_proven, "whether no better plan exists, of any tape"),
        Field("stopped_early", CutPlan.stopped_early, "whether time ended it"),
        Field("seconds", CutPlan.seconds, "seconds it took; blank: still at work"),
        Field("note", CutPlan.note, "note"),
        Field("kept_at", CutPlan.kept_at, "when the bench began to work from it, UTC"),
        Field("changed_at", CutPlan.changed_at, "last change, UTC"),
    ),
    filters=(Filter("status", CutPlan.status, "where it stands", CutPlanStatus),),
    children=(
        Child(
            name="productions",
            doc="shows whose pieces it cuts",
            source=CutPlanShow.__table__.join(Production.__table__),
            id=CutPlanShow.id,
            parent=CutPlanShow.cut_plan_id,
            number=Production.tag_key,
            fields=(Field("production", Production.tag, "show code"),),
            text=_codes,
        ),
    ),
)
