"""Sheets of what is fed already: feeds, where gear stands, and addresses. They make a kept plan."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time
from typing import Any

from sqlalchemy import delete, func, select

from service.kinds.cells import AnyOf
from service.kinds.columns import Column, Form, choice, tag, text, whole, yes_no
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.upkeep.fittings import control_lines
from service.kinds.writing.context import Context
from service.kinds.writing.known import ElementFacts, Known, ModelFacts, ProductionFacts, RunFacts, UnitFacts
from service.planning import lists
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus, UnfedRun
from service.season.records import Production
from service.stock.gear import GearKind

MODES = ("8-bit", "16-bit", "pixel")


@dataclass(frozen=True, slots=True)
class _Gear:
    """A unit, or a model with the unit left open."""

    tag: str
    unit_id: int | None
    model_id: int | None
    model: ModelFacts | None


def _plan(row: Row, key: str, production: str, ctx: Context, known: Known) -> int | None:
    """The plan that a new row goes onto: the one that the crew works from, or one made for the production."""
    if production in known.new_plans:
        return known.new_plans[production]
    if (kept := known.plans.get(production)) is not None:
        return _hold_plan(row, key, production, kept, ctx, known)
    if not ctx.may_make:
        ctx.refuse(row, key, f"{production} has no kept plan", "Work out a plan for it and keep it first.")
        return None
    facts = known.productions.get(production)
    return None if facts is None else _make_plan(facts, ctx, known)


def _hold_plan(row: Row, key: str, production: str, plan: int, ctx: Context, known: Known) -> int | None:
    """The plan, still the kept one and held until the transaction ends."""
    query = select(Plan.id).where(Plan.id == plan, Plan.status == PlanStatus.KEPT)
    held = ctx.session.scalar(query.with_for_update())
    if held is None:
        ctx.refuse(row, key, f"another plan of {production} is being kept", "Try again in a moment.")
        return None
    known.new_plans[production] = held
    return held


def _plan_of_feeds(row: Row, production: str, ctx: Context, known: Known) -> int | None:
    """The same for a feed, which is not mixed into a plan that somebody else has kept meanwhile."""
    if production not in known.new_plans and known.plans.get(production) is not None:
        ctx.refuse(
            row, "element", f"{production} has a kept plan already, and this feed is not in it",
            "Add it by moving the feed, or by planning; or leave this row out.",
        )  # fmt: skip
        return None
    return _plan(row, "element", production, ctx, known)


def _make_plan(facts: ProductionFacts, ctx: Context, known: Known) -> int:
    last = ctx.session.scalar(select(func.max(Plan.number)).where(Plan.production_id == facts.id)) or 0
    values = {
        "production_id": facts.id,
        "number": last + 1,
        "status": PlanStatus.KEPT,
        "origin": "sheets",
        "by": ctx.by,
        "from_on": facts.from_on,
        "until_on": facts.until_on,
        "kept_at": datetime.combine(ctx.today, time(), UTC),
    }
    known.new_plans[facts.tag] = ctx.put(Plan, [values])[0]
    return known.new_plans[facts.tag]


def _hold_plans(
    record: type[Allotment | Placing | Patch], rows: list[Row], ctx: Context, known: Known
) -> dict[int, int]:
    """The kept plan of each row that is changed, by the row's number, held until the transaction ends."""
    ids = [row.thing_id for row in rows if row.thing_id is not None]
    if not ids:
        return {}
    found = ctx.session.execute(
        select(record.id, Plan.id, Production.tag)
        .join(Plan, record.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .where(record.id.in_(ids), Plan.status == PlanStatus.KEPT)
        .order_by(Plan.id)
        .with_for_update(of=Plan)
    ).all()
    known.new_plans |= {production: plan for _, plan, production in found}
    plans = {i: plan for i, plan, _ in found}
    for row in rows:
        if row.thing_id is not None and row.thing_id not in plans:
            ctx.refuse(
                row, None, "another plan is kept meanwhile",
                "Read it again and change what is in the plan that is kept now.",
            )  # fmt: skip
    return plans


def _gear(row: Row, key: str, kinds: tuple[GearKind, ...], ctx: Context, known: Known) -> _Gear | None:
    """The unit or, after "any", the model that the cell names, if it is of one of the kinds."""
    name = row.text(key)
    if not name:
        return None
    thing: UnitFacts | ModelFacts | None
    thing = (
        ctx.named(known.models, row, key, name)
        if isinstance(name, AnyOf)
        else ctx.named(known.units, row, key, name)
    )
    if thing is None:
        return None
    if thing.kind not in kinds:
        wanted = " or ".join(kind.value for kind in kinds)
        ctx.refuse(row, key, f"{thing.tag} is {_article(thing.kind.value)}", f"Name a {wanted}.")
        return None
    if isinstance(thing, ModelFacts):
        return _Gear(f"any {thing.tag}", None, thing.id, thing)
    return _Gear(thing.tag, thing.id, None, thing.model)


def _article(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def _output(row: Row, supply: _Gear, ctx: Context) -> int:
    output = row.whole("output") or 1
    if supply.model is not None and supply.model.kind is GearKind.SUPPLY and output > supply.model.places:
        count = supply.model.places
        ctx.refuse(
            row,
            "output",
            f"{supply.tag} has {count} {'output' if count == 1 else 'outputs'}, and {output} is asked",
            "Name one that it has.",
        )
    return output


def _channels(row: Row, decoder: _Gear | None, ctx: Context) -> tuple[int | None, int]:
    """First channel and how many; none at all straight on the output."""
    channels: tuple[int, int] | None = row.one_of("channels", None)
    if decoder is None:
        if channels is not None and not row.has("decoder"):
            ctx.refuse(
                row, "channels", "channels without a decoder", "Name the decoder, or clear the channels."
            )
        return None, 0
    if channels is None:
        ctx.refuse(row, "channels", f"the channels of {decoder.tag} are not said", "Write for example 1-4.")
        return None, 0
    first, count = channels
    if decoder.model is not None and first + count - 1 > decoder.model.places:
        ctx.refuse(
            row,
            "channels",
            f"{decoder.tag} has {decoder.model.places} channels, and {first + count - 1} is asked",
            "Name channels that it has.",
        )
    return first, count


def _runs(row: Row, element: ElementFacts, ctx: Context) -> list[RunFacts]:
    number = row.whole("run")
    if number is None:
        return element.runs
    runs = [run for run in element.runs if run.number == number]
    if not runs:
        ctx.refuse(
            row,
            "run",
            f"{element.tag} has {len(element.runs)} runs, and run {number} is asked",
            "Name one it has.",
        )
    return runs


def load_feeds(rows: list[Row], ctx: Context, known: Known) -> None:
    """A row feeds one run, or every run of the element alike."""
    plans = _hold_plans(Allotment, rows, ctx, known)
    values: list[dict[str, Any]] = []
    taken: dict[tuple[str, int], int | None] = {}
    for row in rows:
        element = ctx.find(known.elements, row, "element")
        supply = _gear(row, "supply", (GearKind.SUPPLY, GearKind.BATTERY), ctx, known)
        decoder = _gear(row, "decoder", (GearKind.DECODER,), ctx, known)
        if element is None or supply is None:
            continue
        runs, output = _runs(row, element, ctx), _output(row, supply, ctx)
        feed = _feed(row, supply, output, decoder, ctx)
        plan = plans.get(row.thing_id or 0) or _plan_of_feeds(row, element.production, ctx, known)
        for run in runs:
            earlier = taken.setdefault((element.tag, run.number), row.number)
            if earlier != row.number:
                ctx.refuse(
                    row, "element", f"{element.tag} run {run.number} is fed twice: also in row {earlier}",
                    "Keep one of the two rows.",
                )  # fmt: skip
            values.append(feed | {"id": row.thing_id, "plan_id": plan, "run_id": run.id})
    fresh = [each["run_id"] for each in values if each["id"] is None and each["run_id"]]
    ctx.put(Allotment, values)
    if fresh and not ctx.is_checking_only:
        of_plans = sorted(set(known.new_plans.values()))
        ctx.session.execute(
            delete(UnfedRun).where(UnfedRun.plan_id.in_(of_plans), UnfedRun.run_id.in_(fresh))
        )


def _feed(row: Row, supply: _Gear, output: int, decoder: _Gear | None, ctx: Context) -> dict[str, Any]:
    first, count = _channels(row, decoder, ctx)
    return {
        "supply_id": supply.unit_id,
        "supply_model_id": supply.model_id,
        "output": output,
        "decoder_id": decoder.unit_id if decoder else None,
        "decoder_model_id": decoder.model_id if decoder else None,
        "first_channel": first,
        "channels": count,
        "is_locked": row.flag("locked", False),
    }


def _line(row: Row, production: str, ctx: Context, known: Known) -> int | None:
    name = row.text("line")
    lines = known.others("control line", control_lines)
    return ctx.named(lines, row, "line", f"{production}\t{name}", name) if name else None


def load_standing(rows: list[Row], ctx: Context, known: Known) -> None:
    plans = _hold_plans(Placing, rows, ctx, known)
    values = []
    for row in rows:
        production, unit = ctx.find(known.productions, row, "production"), ctx.find(known.units, row, "tag")
        place, outlet = ctx.find(known.places, row, "place"), ctx.find(known.outlets, row, "outlet")
        box = _gear(row, "box", (GearKind.ENCLOSURE,), ctx, known)
        if production is None or unit is None or not ctx.claim_name(known.standing, row, "tag"):
            continue
        rides = row.text("rides_on")
        scenic = (
            ctx.named(known.scenic_units, row, "rides_on", f"{production.tag}\t{rides}", rides)
            if rides
            else None
        )
        values.append(
            {
                "id": row.thing_id,
                "plan_id": plans.get(row.thing_id or 0)
                or _plan(row, "production", production.tag, ctx, known),
                "unit_id": unit.id,
                "place_id": place,
                "scenic_unit_id": scenic,
                "enclosure_id": box.unit_id if box else None,
                "outlet_id": outlet,
                "line_id": _line(row, production.tag, ctx, known),
            }
        )
    ctx.put(Placing, values)


def load_addresses(rows: list[Row], ctx: Context, known: Known) -> None:
    """Slots past 512 or shared with another decoder are stored as they are: the limits report them."""
    plans = _hold_plans(Patch, rows, ctx, known)
    values = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        decoder = _gear(row, "decoder", (GearKind.DECODER,), ctx, known)
        if production is None or decoder is None or not ctx.claim_name(known.addresses, row, "decoder"):
            continue
        values.append(
            {
                "id": row.thing_id,
                "plan_id": plans.get(row.thing_id or 0)
                or _plan(row, "production", production.tag, ctx, known),
                "decoder_id": decoder.unit_id,
                "port": row.whole("port") or 0,
                "universe": row.whole("universe"),
                "start": row.whole("start"),
                "footprint": _footprint(row, decoder),
                "mode": row.text("mode", "8-bit"),
                "pixels": row.whole("pixels"),
                "mirror": row.text("mirror"),
            }
        )
    ctx.put(Patch, values)


def _footprint(row: Row, decoder: _Gear) -> int | None:
    """The slots said, or its model's in that mode; another mode takes another number of slots."""
    mode, footprint = row.text("mode", "8-bit"), row.whole("slots")
    of_model = decoder.model.footprints.get(mode) if decoder.model is not None else None
    is_of_another_mode = row.thing_id is not None and "slots" in row.kept and "mode" not in row.kept
    if footprint is None or (is_of_another_mode and of_model is not None):
        return of_model
    return footprint


def _channels_of(row: Mapping[str, Any]) -> object:
    """First channel and how many, from the text of the list."""
    if row["channels"] is None:
        return None
    first, _, last = row["channels"].partition("-")
    return int(first), int(last or first) - int(first) + 1


def _source_of(field: str) -> Callable[[Mapping[str, Any]], object]:
    """A unit's tag or, after "any", a model."""

    def read(row: Mapping[str, Any]) -> object:
        name = row[field]
        return AnyOf(name[4:]) if name is not None and name.startswith("any ") else name

    return read


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"),
                  is_fixed=True)  # fmt: skip


def _run_by_run(rows: list[Row], known: Known) -> list[Row]:
    """A row for a whole element as a row for each of its runs."""
    found = []
    for row in rows:
        element = known.elements.get(row.text("element"))
        if row.has("run") or element is None or not element.runs:
            found.append(row)
            continue
        for run in element.runs:
            name = f"{row.text('element')}\t{run.number}"
            found.append(replace(row, values=row.values | {"run": run.number}, name=name))
    return found


FEEDS = Kind(
    "feeds",
    "what feeds an element that is fed already",
    (
        tag("Element", "The element", required=True, example="SQ-07", is_fixed=True),
        whole("Run", "One run only; blank: every run of it", 1, 400, is_fixed=True),
        Column("Supply", Form.SOURCE, "Supply or battery, or any and a model", required=True, example="PS-25",
               also=("battery", "source"), read=_source_of("supply")),
        whole("Output", "Output of the supply", 1, 48, default="1", also=("out",)),
        Column("Decoder", Form.SOURCE, "Decoder, or any and a model; blank: straight on the output",
               example="DC-32", also=("dimmer",), read=_source_of("decoder")),
        Column("Channels", Form.CHANNELS, "Channels of the decoder, or port of a pixel driver", example="1-4",
               also=("channel", "ch"), read=_channels_of),
        yes_no("Locked", "The allocator must leave it", default="no", field="is_locked"),
    ),
    load_feeds,
    "feed",
    ("element", "run"),
    ("feed", "allotments"),
    listing=lists.FEEDS,
    record=Allotment,
    is_written=False,
    each=_run_by_run,
)  # fmt: skip
STANDING = Kind(
    "gear on stage",
    "where a unit stands in a show",
    (
        _PRODUCTION,
        tag("Tag", "The unit or box", required=True, example="PS-25", also=("unit",), field="unit",
            is_fixed=True),
        tag("Place", "Where it stands", example="SL-DL"),
        text("Rides on", "The scenic unit it moves with", 120, example="Sleigh", also=("on scenic unit",)),
        tag("Box", "The box it is in", example="EN-2", also=("enclosure",)),
        tag("Outlet", "The outlet a supply is plugged into", example="MD1", also=("circuit",)),
        text("Line", "The line that control reaches it by", 80, example="deck left"),
    ),
    load_standing,
    "gear on stage",
    ("production", "tag"),
    ("gear places", "placings"),
    listing=lists.GEAR_ON_STAGE,
    record=Placing,
)  # fmt: skip
ADDRESSES = Kind(
    "addresses",
    "the control slots of a decoder in a show",
    (
        _PRODUCTION,
        tag("Decoder", "The decoder", required=True, example="DC-32", is_fixed=True),
        whole("Port", "Port of a pixel driver; blank: the whole decoder", 1, 512, is_fixed=True),
        whole("Universe", "Its universe", 1, 63_999, example="3"),
        whole("Start", "Its first slot", 1, 512, example="51", also=("start address", "address")),
        choice("Mode", MODES, "How many slots a channel takes", default="8-bit"),
        whole("Slots", "How many slots it takes", 1, 4_096, default="its model's", also=("footprint",),
              field="footprint"),
        whole("Pixels", "Pixels on the port", 1, 4_096),
        text("Mirror", "Name shared by decoders that repeat each other on purpose", 40),
    ),
    load_addresses,
    "address",
    ("production", "decoder", "port"),
    ("address", "patch"),
    listing=lists.ADDRESSES,
    record=Patch,
)  # fmt: skip
