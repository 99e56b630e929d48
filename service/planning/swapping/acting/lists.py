"""The list of swaps."""

from sqlalchemy.orm import aliased

from service.planning.records import Plan
from service.planning.swapping.records import Swap
from service.season.records import Production
from service.shows.faults import Fault
from service.shows.upkeep import Note
from service.stock.gear import Unit
from service.store.listing import Field, Filter, Listing, outer

_old, _new = aliased(Unit), aliased(Unit)

SWAPS = Listing(
    plural="swaps",
    one="a swap",
    doc="Units put in the place of others in kept plans, in the order in which it was done; what was taken "
    "back stays on record.",
    source=outer(
        Swap.__table__.join(Production.__table__, Swap.production_id == Production.id)
        .join(Plan.__table__, Swap.plan_id == Plan.id)
        .join(_old, Swap.old_id == _old.id)
        .join(_new, Swap.new_id == _new.id),
        (Fault, Swap.fault_id == Fault.id),
        (Note, Swap.note_id == Note.id),
    ),
    id=Swap.id,
    version=Swap.version,
    key=Swap.id,
    order=(Swap.id,),
    is_tagged=False,
    fields=(
        Field("number", Swap.number, "its number on paper; its address"),
        Field("production", Production.tag, "show code"),
        Field("plan", Plan.number, "number of the plan it was done in"),
        Field("old", _old.tag, "tag of the unit that came out"),
        Field("new", _new.tag, "tag of the unit that went in"),
        Field("why", Swap.why, "what was found, and why a limit was passed if one was"),
        Field("fault", Fault.number, "number of its fault record", is_blank=True),
        Field("note", Note.number, "number of the note for the next crew", is_blank=True),
        Field("swapped_on", Swap.swapped_on, "day it was done"),
        Field("swapped_by", Swap.swapped_by, "who did it; not proven until people sign in"),
        Field("undone_at", Swap.undone_at, "when it was taken back, UTC"),
        Field("undone_by", Swap.undone_by, "who took it back"),
        Field("changed_at", Swap.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("old", _old.tag_key, "tag of the unit that came out", is_tag=True),
        Filter("new", _new.tag_key, "tag of the unit that went in", is_tag=True),
        Filter("is_undone", Swap.undone_at.is_not(None), "only what was taken back, or what stands", bool),
    ),
)
