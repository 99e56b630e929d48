"""Sheets of what is fed already: feeds, where gear stands, and addresses. They make a kept plan."""

from dataclasses import dataclass
from datetime import UTC, datetime, time

from sqlalchemy import func, select

from service.kinds.cells import AnyOf
from service.kinds.columns import Column, Form, choice, tag, text, whole, yes_no
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import ElementFacts, Known, ModelFacts, RunFacts, UnitFacts
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
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
    """The kept plan that this import makes for the production; one that is kept already is not touched."""
    if production in known.new_plans:
        return known.new_plans[production]
    if known.plans.get(production) is not None:
        ctx.refuse(
            row, key, f"{production} has a kept plan already",
            "Sheets only add: change its feeds by planning, and leave these rows out.",
        )  # fmt: skip
        return None
    facts = known.productions.get(production)
    if facts is None:
        return None
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
    known.new_plans[production] = ctx.put(Plan, [values])[0]
    return known.new_plans[production]


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
    values = []
    taken: dict[tuple[str, int], int] = {}
    for row in rows:
        element = ctx.find(known.elements, row, "element")
        supply = _gear(row, "supply", (GearKind.SUPPLY, GearKind.BATTERY), ctx, known)
        decoder = _gear(row, "decoder", (GearKind.DECODER,), ctx, known)
        if element is None or supply is None:
            continue
        plan, output = _plan(row, "element", element.production, ctx, known), _output(row, supply, ctx)
        first, count = _channels(row, decoder, ctx)
        for run in _runs(row, element, ctx):
            earlier = taken.setdefault((element.tag, run.number), row.number)
            if earlier != row.number:
                ctx.refuse(
                    row, "element", f"{element.tag} run {run.number} is fed twice: also in row {earlier}",
                    "Keep one of the two rows.",
                )  # fmt: skip
            values.append(
                {
                    "plan_id": plan,
                    "run_id": run.id,
                    "supply_id": supply.unit_id,
                    "supply_model_id": supply.model_id,
                    "output": output,
                    "decoder_id": decoder.unit_id if decoder else None,
                    "decoder_model_id": decoder.model_id if decoder else None,
                    "first_channel": first,
                    "channels": count,
                    "is_locked": row.flag("locked", False),
                }
            )
    ctx.put(Allotment, values)


def load_standing(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    taken: dict[tuple[str, str], int] = {}
    for row in rows:
        production, unit = ctx.find(known.productions, row, "production"), ctx.find(known.units, row, "tag")
        place, outlet = ctx.find(known.places, row, "place"), ctx.find(known.outlets, row, "outlet")
        box = _gear(row, "box", (GearKind.ENCLOSURE,), ctx, known)
        if production is None or unit is None:
            continue
        rides = row.text("rides_on")
        scenic = (
            ctx.named(known.scenic_units, row, "rides_on", f"{production.tag}\t{rides}", rides)
            if rides
            else None
        )
        earlier = taken.setdefault((production.tag, unit.tag), row.number)
        if earlier != row.number:
            ctx.refuse(
                row, "tag", f"{unit.tag} stands twice in {production.tag}: also in row {earlier}", "Keep one."
            )
        values.append(
            {
                "plan_id": _plan(row, "production", production.tag, ctx, known),
                "unit_id": unit.id,
                "place_id": place,
                "scenic_unit_id": scenic,
                "enclosure_id": box.unit_id if box else None,
                "outlet_id": outlet,
            }
        )
    ctx.put(Placing, values)


def load_addresses(rows: list[Row], ctx: Context, known: Known) -> None:
    """Slots past 512 or shared with another decoder are stored as they are: the limits report them."""
    values = []
    taken: dict[tuple[str, str, int], int] = {}
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        decoder = _gear(row, "decoder", (GearKind.DECODER,), ctx, known)
        if production is None or decoder is None:
            continue
        port, mode = row.whole("port") or 0, row.text("mode", "8-bit")
        earlier = taken.setdefault((production.tag, decoder.tag, port), row.number)
        if earlier != row.number:
            ctx.refuse(
                row, "decoder", f"{decoder.tag} has two addresses in {production.tag}: also in row {earlier}",
                "Keep one, or give each port its own row.",
            )  # fmt: skip
        footprint = row.whole("slots")
        if footprint is None and decoder.model is not None:
            footprint = decoder.model.footprints.get(mode)
        values.append(
            {
                "plan_id": _plan(row, "production", production.tag, ctx, known),
                "decoder_id": decoder.unit_id,
                "port": port,
                "universe": row.whole("universe"),
                "start": row.whole("start"),
                "footprint": footprint,
                "mode": mode,
                "pixels": row.whole("pixels"),
                "mirror": row.text("mirror"),
            }
        )
    ctx.put(Patch, values)


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"))

FEEDS = Kind(
    "feeds",
    "what feeds an element that is fed already",
    (
        tag("Element", "The element", required=True, example="SQ-07"),
        whole("Run", "One run only; blank: every run of it", 1, 400),
        Column("Supply", Form.SOURCE, "Supply or battery, or any and a model", required=True, example="PS-25",
               also=("battery", "source")),
        whole("Output", "Output of the supply", 1, 48, default="1", also=("out",)),
        Column("Decoder", Form.SOURCE, "Decoder, or any and a model; blank: straight on the output",
               example="DC-32", also=("dimmer",)),
        Column("Channels", Form.CHANNELS, "Channels of the decoder, or port of a pixel driver", example="1-4",
               also=("channel", "ch")),
        yes_no("Locked", "The allocator must leave it", default="no"),
    ),
    load_feeds,
    also=("feed", "allotments"),
)  # fmt: skip
STANDING = Kind(
    "gear on stage",
    "where a unit stands in a show",
    (
        _PRODUCTION,
        tag("Tag", "The unit or box", required=True, example="PS-25", also=("unit",)),
        tag("Place", "Where it stands", example="SL-DL"),
        text("Rides on", "The scenic unit it moves with", 120, example="Sleigh", also=("on scenic unit",)),
        tag("Box", "The box it is in", example="EN-2", also=("enclosure",)),
        tag("Outlet", "The outlet a supply is plugged into", example="MD1", also=("circuit",)),
    ),
    load_standing,
    also=("gear places", "placings"),
)
ADDRESSES = Kind(
    "addresses",
    "the control slots of a decoder in a show",
    (
        _PRODUCTION,
        tag("Decoder", "The decoder", required=True, example="DC-32"),
        whole("Port", "Port of a pixel driver; blank: the whole decoder", 1, 512),
        whole("Universe", "Its universe", 1, 63_999, example="3"),
        whole("Start", "Its first slot", 1, 512, example="51", also=("start address", "address")),
        choice("Mode", MODES, "How many slots a channel takes", default="8-bit"),
        whole("Slots", "How many slots it takes", 1, 4_096, default="its model's", also=("footprint",)),
        whole("Pixels", "Pixels on the port", 1, 4_096),
        text("Mirror", "Name shared by decoders that repeat each other on purpose", 40),
    ),
    load_addresses,
    also=("address", "patch"),
)
