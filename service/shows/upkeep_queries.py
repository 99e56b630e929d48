"""The lists of what is fitted, found, measured, noted and asked for."""

from sqlalchemy.orm import aliased

from service.season.records import Production
from service.shows.faults import BenchTest, Fault
from service.shows.fittings import ControlLine, Fuse, LineKind
from service.shows.records import Element, Run
from service.shows.upkeep import Note, WorkOrder
from service.stock.gear import Unit
from service.stock.people import Person
from service.stock.records import Place, Tape
from service.store.base import TagEntry
from service.store.listing import Field, Filter, Listing, outer

_unit, _other = Unit.__table__, Unit.__table__.alias("swapped_for")
_show = aliased(Production)

FUSES = Listing(
    plural="fuses",
    one="a fuse",
    doc="Fuses as they are fitted: on a supply, or in the lead of a run.",
    source=outer(
        Fuse.__table__, (_unit, Fuse.unit_id == _unit.c.id), (Run, Fuse.run_id == Run.id),
        (Element, Run.element_id == Element.id), (Production, Element.production_id == Production.id),
    ),
    id=Fuse.id,
    version=Fuse.version,
    key=Fuse.id,
    order=(Fuse.id,),
    is_tagged=False,
    fields=(
        Field("id", Fuse.id, "number in the store; its address"),
        Field("number", Fuse.number, "number on paper"),
        Field("rating_a", Fuse.rating_a, "rating in A"),
        Field("kind", Fuse.kind, "blade, glass, slow: as it is printed on it"),
        Field("unit", _unit.c.tag, "tag of the unit it is fitted on", is_blank=True),
        Field("output", Fuse.output, "output of that unit, from 1; blank: the whole unit"),
        Field("element", Element.tag, "tag of the element in whose lead it is fitted", is_blank=True),
        Field("run", Run.number, "number of that run, from 1", is_blank=True),
        Field("production", Production.tag, "show code, where it is in a lead", is_blank=True),
        Field("fitted_on", Fuse.fitted_on, "day it was fitted"),
        Field("note", Fuse.note, "note"),
        Field("changed_at", Fuse.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("unit", _unit.c.tag_key, "tag of the unit", is_tag=True),
        Filter("element", Element.tag_key, "tag of the element", is_tag=True),
        Filter("production", Production.tag_key, "show code", is_tag=True),
    ),
)  # fmt: skip

CONTROL_LINES = Listing(
    plural="control-lines",
    one="a control line",
    doc="The ways that control takes in a show: wired lines, streams, wireless links.",
    source=outer(
        ControlLine.__table__.join(Production.__table__), (Place, ControlLine.starts_at_id == Place.id)
    ),
    id=ControlLine.id,
    version=ControlLine.version,
    key=ControlLine.id,
    order=(Production.tag_key, ControlLine.name, ControlLine.id),
    is_tagged=False,
    fields=(
        Field("id", ControlLine.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("name", ControlLine.name, "what people call it"),
        Field("kind", ControlLine.kind, "wired, stream, wireless or local"),
        Field("universe", ControlLine.universe, "universe it carries"),
        Field("unit_load_limit", ControlLine.unit_load_limit, "unit loads that it carries (ANSI E1.11)"),
        Field("starts_at", Place.tag, "tag of the place it starts at", is_blank=True),
        Field("note", ControlLine.note, "note"),
        Field("changed_at", ControlLine.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("kind", ControlLine.kind, "kind of line", LineKind),
        Filter("universe", ControlLine.universe, "universe", int),
    ),
)

FAULTS = Listing(
    plural="faults",
    one="a fault",
    doc="What was found wrong with elements and units; open while nobody has mended it.",
    source=outer(
        Fault.__table__, (Element, Fault.element_id == Element.id),
        (Production, Element.production_id == Production.id), (_unit, Fault.unit_id == _unit.c.id),
        (_other, Fault.swapped_for_id == _other.c.id),
    ),
    id=Fault.id,
    version=Fault.version,
    key=Fault.id,
    order=(Fault.id,),
    is_tagged=False,
    fields=(
        Field("id", Fault.id, "number in the store; its address"),
        Field("number", Fault.number, "number on paper"),
        Field("element", Element.tag, "tag of the element", is_blank=True),
        Field("production", Production.tag, "show code of the element", is_blank=True),
        Field("unit", _unit.c.tag, "tag of the unit", is_blank=True),
        Field("found_on", Fault.found_on, "day it was found"),
        Field("found_at", Fault.found_at, "when, UTC"),
        Field("found_by", Fault.found_by, "who found it"),
        Field("symptom", Fault.symptom, "what was seen"),
        Field("made_dark", Fault.made_dark, "whether it put the element out"),
        Field("cause", Fault.cause, "what it was"),
        Field("fix", Fault.fix, "what was done"),
        Field("swapped_for", _other.c.tag, "tag of the unit put in its place", is_blank=True),
        Field("minutes_dark", Fault.minutes_dark, "how long it was dark, in minutes"),
        Field("mended_on", Fault.mended_on, "day it was mended; blank: open"),
        Field("is_open", Fault.mended_on.is_(None), "whether it is not mended", kind=bool, is_blank=False),
        Field("changed_at", Fault.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("element", Element.tag_key, "tag of the element", is_tag=True),
        Filter("unit", _unit.c.tag_key, "tag of the unit", is_tag=True),
        Filter("production", Production.tag_key, "show code of the element", is_tag=True),
        Filter("is_open", Fault.mended_on.is_(None), "only open ones, or only mended ones", bool),
    ),
)  # fmt: skip

BENCH_TESTS = Listing(
    plural="bench-tests",
    one="a bench test",
    doc="What was measured on the bench, of elements and units.",
    source=outer(
        BenchTest.__table__, (Element, BenchTest.element_id == Element.id),
        (Production, Element.production_id == Production.id), (_unit, BenchTest.unit_id == _unit.c.id),
        (Tape, BenchTest.tape_id == Tape.id),
    ),
    id=BenchTest.id,
    version=BenchTest.version,
    key=BenchTest.id,
    order=(BenchTest.id,),
    is_tagged=False,
    fields=(
        Field("id", BenchTest.id, "number in the store; its address"),
        Field("number", BenchTest.number, "number on paper"),
        Field("element", Element.tag, "tag of the element", is_blank=True),
        Field("production", Production.tag, "show code of the element", is_blank=True),
        Field("unit", _unit.c.tag, "tag of the unit", is_blank=True),
        Field("tape", Tape.tag, "tag of the tape that was measured", is_blank=True),
        Field("tested_on", BenchTest.tested_on, "day"),
        Field("tested_by", BenchTest.tested_by, "who tested it"),
        Field("hours_at_full", BenchTest.hours_at_full, "hours at full before it was read"),
        Field("measured_w_per_m", BenchTest.measured_w_per_m, "all emitters together at full, in W/m"),
        Field("measured_w", BenchTest.measured_w, "power at full, in W; loads go by measured_w_per_m only"),
        Field("measured_v", BenchTest.measured_v, "voltage at full, in V"),
        Field("passed", BenchTest.passed, "whether it passed"),
        Field("note", BenchTest.note, "what was seen"),
        Field("changed_at", BenchTest.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("element", Element.tag_key, "tag of the element", is_tag=True),
        Filter("unit", _unit.c.tag_key, "tag of the unit", is_tag=True),
        Filter("production", Production.tag_key, "show code of the element", is_tag=True),
        Filter("passed", BenchTest.passed, "only passed ones, or only failed ones", bool),
    ),
)  # fmt: skip

NOTES = Listing(
    plural="notes",
    one="a note",
    doc="What was said about things and shows; open until it is done.",
    source=Note.__table__.join(TagEntry.__table__),
    id=Note.id,
    version=Note.version,
    key=Note.id,
    order=(Note.id,),
    is_tagged=False,
    fields=(
        Field("id", Note.id, "number in the store; its address"),
        Field("number", Note.number, "number on paper"),
        Field("about", TagEntry.tag, "tag of the thing, or code of the show"),
        Field("about_kind", TagEntry.kind, "kind of thing"),
        Field("text", Note.text, "what was said"),
        Field("written_by", Note.written_by, "who said it"),
        Field("written_at", Note.written_at, "when, UTC"),
        Field("done_on", Note.done_on, "day it was done; blank: open"),
        Field("changed_at", Note.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("about", Note.about_key, "tag of the thing, or code of the show", is_tag=True),
        Filter("is_open", Note.done_on.is_(None), "only open ones, or only done ones", bool),
    ),
)

WORK_ORDERS = Listing(
    plural="work-orders",
    one="a work order",
    doc="Work asked of somebody, for a show or on a thing.",
    source=outer(
        WorkOrder.__table__, (_show, WorkOrder.production_id == _show.id),
        (TagEntry, WorkOrder.about_key == TagEntry.key), (Person, WorkOrder.person_id == Person.id),
    ),
    id=WorkOrder.id,
    version=WorkOrder.version,
    key=WorkOrder.id,
    order=(WorkOrder.id,),
    is_tagged=False,
    fields=(
        Field("id", WorkOrder.id, "number in the store; its address"),
        Field("number", WorkOrder.number, "number on paper"),
        Field("production", _show.tag, "show code", is_blank=True),
        Field("about", TagEntry.tag, "tag of the thing it is on", is_blank=True),
        Field("what", WorkOrder.what, "what is to be done"),
        Field("person", Person.name, "whom it is asked of", is_blank=True),
        Field("asked_on", WorkOrder.asked_on, "day it was asked"),
        Field("due_on", WorkOrder.due_on, "day it is due"),
        Field("done_on", WorkOrder.done_on, "day it was done; blank: open"),
        Field("done_by", WorkOrder.done_by, "who did it"),
        Field("changed_at", WorkOrder.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", _show.tag_key, "show code", is_tag=True),
        Filter("about", WorkOrder.about_key, "tag of the thing", is_tag=True),
        Filter("person", Person.name, "whom it is asked of, exactly"),
        Filter("is_open", WorkOrder.done_on.is_(None), "only open ones, or only done ones", bool),
    ),
)  # fmt: skip

LISTINGS = (FUSES, CONTROL_LINES, FAULTS, BENCH_TESTS, NOTES, WORK_ORDERS)
