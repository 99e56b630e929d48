"""Sheets of the things themselves: supplies, decoders, batteries, boxes and outlets."""

from datetime import date

from service.kinds.columns import Column, choice, day, length, quantity, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.retiring import restore_unit, retire_outlet, retire_unit
from service.kinds.row import Row
from service.kinds.steps import units
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ModelFacts, UnitFacts
from service.stock import gear_queries, queries
from service.stock.gear import Enclosure, GearKind, Unit, UnitState
from service.stock.records import Outlet, OutletKind
from service.store.days import day_after

BAD = frozenset({UnitState.SUSPECT, UnitState.FAULTY, UnitState.MISSING})
VENTS = ("sealed", "vented", "fan")


def _load_units(kind: GearKind, rows: list[Row], ctx: Context, known: Known) -> None:
    kept: list[tuple[Row, ModelFacts, dict[str, object]]] = []
    for row in rows:
        claimed = ctx.claim(row, "tag", row.text("tag"))
        model = ctx.find(known.models, row, "model")
        if model is not None and model.kind is not kind:
            ctx.refuse(
                row, "model", f"{model.tag} is a {model.kind.value} model", f"Name a {kind.value} model."
            )
        unit = _unit(row, kind, ctx, known)
        if not claimed or model is None or row.is_broken:
            ctx.mark_broken(row)
            continue
        values = unit | {"model_id": model.id}
        kept.append((row, model, values))
    ids = ctx.put(Unit, [values for _, _, values in kept])
    for (row, model, _), i in zip(kept, ids, strict=True):
        known.units.put(row, UnitFacts(i, row.text("tag"), kind, model))


def _unit(row: Row, kind: GearKind, ctx: Context, known: Known) -> dict[str, object]:
    state = row.values["state"] = _state(row, ctx)
    home, seen = (ctx.find(known.places, row, key) for key in ("bin", "seen_at"))
    if row.thing_id is not None and state in BAD and not row.has("state_note"):
        ctx.refuse(
            row, "state_note", f"{row.text('tag')} is {state} without a word why", "Say what was found."
        )
    return {
        "id": row.thing_id,
        "tag": row.text("tag"),
        "kind": kind,
        "model_id": None,
        "state": state,
        "state_note": row.text("state_note"),
        "home_id": home,
        "where_note": row.text("where_now"),
        "seen_place_id": seen,
        "seen_on": row.day("seen_on"),
        **_hire(row, ctx),
        "last_tested_on": row.day("tested_on"),
        "cycles": row.whole("cycles"),
        "measured_ah": row.real("measured"),
        "retired_on": _retired_on(row, state, ctx),
    }


def _hire(row: Row, ctx: Context) -> dict[str, date | None]:
    """The half-open days that a hired unit is here."""
    first, last = row.day("hired_from"), row.day("hired_to")
    if first is not None and last is not None and last < first:
        ctx.refuse(
            row, "hired_to", f"the hire ends on {last}, before it begins on {first}", "Correct one of them."
        )
    return {"hired_from": first, "hired_until": None if last is None else day_after(last)}


def _state(row: Row, ctx: Context) -> UnitState:
    """Its condition. Retired is one too, so a sheet that says both must say the same; where it changes one of
    the two alone, the other follows if there is but one way."""
    is_retired, is_shown = row.has("retired_on"), "retired_on" in row.heads
    state: UnitState = row.one_of("state", UnitState.RETIRED if is_retired else UnitState.GOOD)
    if (state is UnitState.RETIRED) == is_retired:
        return state
    is_new = row.thing_id is None
    has_turned, state_has_turned = "retired_on" not in row.kept, "state" not in row.kept
    if is_retired and not is_new and has_turned and not state_has_turned:
        return UnitState.RETIRED
    if is_retired and is_shown:
        ctx.refuse(
            row, "state", f"{row.text('tag')} is {state}, and retired on {row.day('retired_on')}",
            "Make its state retired, or clear Retired on.",
        )  # fmt: skip
    elif is_retired:
        del row.values["retired_on"]
    elif is_shown and not is_new and has_turned:
        ctx.refuse(
            row, "state", f"{row.text('tag')} would come back, and its state is retired",
            "Say what state it is in.",
        )  # fmt: skip
    return state


def _retired_on(row: Row, state: UnitState, ctx: Context) -> date | None:
    """A retired unit is out of every count from the day it was retired: the day said, or today."""
    if state is not UnitState.RETIRED:
        return None
    before = None if row.thing_id is None else ctx.session.get_one(Unit, row.thing_id).retired_on
    on = row.day("retired_on") or before or ctx.today
    row.values["retired_on"] = on
    return on


def load_supplies(rows: list[Row], ctx: Context, known: Known) -> None:
    _load_units(GearKind.SUPPLY, rows, ctx, known)


def load_decoders(rows: list[Row], ctx: Context, known: Known) -> None:
    _load_units(GearKind.DECODER, rows, ctx, known)


def load_batteries(rows: list[Row], ctx: Context, known: Known) -> None:
    _load_units(GearKind.BATTERY, rows, ctx, known)


def load_enclosures(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = [(row, _unit(row, GearKind.ENCLOSURE, ctx, known)) for row in rows]
    kept = [(row, values) for row, values in kept if ctx.claim(row, "tag", row.text("tag"))]
    ids = ctx.put(Unit, [values for _, values in kept])
    boxes: list[dict[str, object]] = []
    for (row, _), i in zip(kept, ids, strict=True):
        known.units.put(row, UnitFacts(i, row.text("tag"), GearKind.ENCLOSURE, None))
        boxes.append(
            {
                "unit_id": i,
                "material": row.text("material"),
                "vent": row.text("vent", "sealed"),
                "length_um": row.um("length"),
                "width_um": row.um("width"),
                "height_um": row.um("height"),
                "faces_exposed": row.whole("faces_in_air"),
                "area_m2": row.real("area"),
                "k_w_per_m2_k": row.real("heat_passed"),
                "ambient_degc": row.real("air_outside"),
                "fan_m3_per_h": row.real("fan"),
            }
        )
    ctx.put_parts(Enclosure, (Unit, "unit_id"), "unit_id", boxes)


def load_outlets(rows: list[Row], ctx: Context, known: Known) -> None:
    for row in rows:
        if not ctx.claim(row, "outlet", row.text("outlet")):
            continue
        kind: OutletKind = row.one_of("kind", OutletKind.CONSTANT)
        values = {
            "id": row.thing_id,
            "tag": row.text("outlet"),
            "venue_id": ctx.find(known.venues, row, "venue"),
            "place_id": ctx.find(known.places, row, "place"),
            "position": row.text("position"),
            "kind": kind,
            "breaker_a": row.real("breaker"),
            "volts_v": row.real("volts"),
        }
        known.outlets.put(row, ctx.put(Outlet, [values])[0])


_UNIT_ENDS = (
    choice("State", UnitState, "Its condition", default="good"),
    text("State note", "What is wrong, or what was last seen"),
    tag("Bin", "Where it belongs; blank: the store", example="B1", also=("home", "home bin"), field="home"),
    text("Where now", "Where it is today", 120, field="where_note"),
    day("Tested on", "Last test", field="last_tested_on"),
    tag("Seen at", "The place it was last seen at", example="SL-DR"),
    day("Seen on", "Day it was seen there"),
    day("Hired from", "First day of its hire; blank: it is the house's own"),
    day("Hired to", "Last day of its hire"),
)


def _unit_columns(tag_example: str, model_example: str) -> tuple[Column, ...]:
    return (
        tag(
            "Tag", "What is printed on it", required=True, example=tag_example, also=("unit",), is_fixed=True
        ),
        tag("Model", "Its model", required=True, example=model_example, also=("type",)),
        *_UNIT_ENDS,
    )


SUPPLIES = Kind(
    "supplies",
    "one power supply",
    _unit_columns("PS-01", "S320"),
    load_supplies,
    "unit",
    ("tag",),
    ("supply",),
    listing=gear_queries.SUPPLIES,
    record=Unit,
    retire=retire_unit,
    restore=restore_unit,
    stepping=units.STEPPING,
    label=("model",),
)
DECODERS = Kind(
    "decoders",
    "one decoder",
    _unit_columns("DC-01", "D4"),
    load_decoders,
    "unit",
    ("tag",),
    ("decoder", "dimmers"),
    listing=gear_queries.DECODERS,
    record=Unit,
    retire=retire_unit,
    restore=restore_unit,
    stepping=units.STEPPING,
    label=("model",),
)
BATTERIES = Kind(
    "batteries",
    "one battery",
    (
        *_unit_columns("BT-01", "B12-10"),
        whole("Cycles", "Charges so far", 0, 100_000),
        quantity("Measured", "Ah", "Charge it gave when last measured", 0, 1_000, field="measured_ah"),
    ),
    load_batteries,
    "unit",
    ("tag",),
    ("battery",),
    listing=gear_queries.BATTERIES,
    record=Unit,
    retire=retire_unit,
    restore=restore_unit,
    stepping=units.STEPPING,
    label=("model",),
)
ENCLOSURES = Kind(
    "boxes",
    "one box that gear stands in",
    (
        tag("Tag", "What is printed on it", required=True, example="EN-1", is_fixed=True),
        text("Material", "What its walls are", 80, example="12 mm ply"),
        choice("Vent", VENTS, "Sealed, vented top and bottom, or with a fan", default="sealed"),
        length("Length", "Inside", 0.02, 10, example="400 mm", field="length_m"),
        length("Width", "Inside", 0.02, 10, example="300 mm", field="width_m"),
        length("Height", "Inside", 0.02, 10, example="200 mm", field="height_m"),
        whole("Faces in air", "How many of its six faces are free", 1, 6, example="5", field="faces_exposed"),
        quantity("Area", "m2", "Area of those faces", 0.001, 100, example="0.40", field="area_m2"),
        quantity(
            "Heat passed",
            "W/m2K",
            "Heat a square metre passes for each degree",
            0.1,
            50,
            example="2.5",
            field="k_w_per_m2_k",
        ),
        quantity(
            "Air outside",
            "degC",
            "Air around it",
            -40,
            80,
            example="30",
            also=("ambient",),
            field="ambient_degc",
        ),
        quantity("Fan", "m3/h", "Air a fan moves", 0, 10_000, field="fan_m3_per_h"),
        *_UNIT_ENDS,
    ),
    load_enclosures,
    "unit",
    ("tag",),
    ("enclosures", "box"),
    listing=gear_queries.ENCLOSURES,
    record=Unit,
    retire=retire_unit,
    restore=restore_unit,
    stepping=units.STEPPING,
    label=("material",),
)
OUTLETS = Kind(
    "outlets",
    "one wall or deck circuit",
    (
        tag(
            "Outlet",
            "Its name",
            required=True,
            example="MD2",
            also=("circuit", "tag"),
            field="tag",
            is_fixed=True,
        ),
        text("Venue", "The stage it is on", 80, example="Slipway"),
        tag("Place", "Where it is", example="SL-DR"),
        text("Position", "The same in words", 80, example="deck right"),
        choice("Kind", OutletKind, "Constant, through a relay, or dimmed", default="constant"),
        quantity("Breaker", "A", "Its breaker", 1, 400, example="20", field="breaker_a"),
        quantity("Volts", "V", "Its voltage", 80, 480, example="120", field="volts_v"),
    ),
    load_outlets,
    "outlet",
    ("outlet",),
    ("circuits", "outlet"),
    listing=queries.OUTLETS,
    record=Outlet,
    retire=retire_outlet,
    label=("position",),
)
