"""Sheets of models: supplies, decoders and batteries as kinds."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from service.kinds.columns import Column, Form, choice, quantity, tag, text, whole, yes_no
from service.kinds.kind import Kind, Part, Values
from service.kinds.retiring import retire_model
from service.kinds.row import Row
from service.kinds.sheets.tape import POLARITIES, nominal_class_v
from service.kinds.upkeep.fittings import connectors
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ModelFacts
from service.limits.blanks import battery_blanks, decoder_blanks, listed, supply_blanks
from service.stock import gear_queries
from service.stock.gear import BatteryModel, DecoderBank, DecoderModel, GearKind, SupplyModel, SupplyOutput

LINKS = ("wired", "wireless", "network", "local")
SIGNALS = ("level", "pixel")


def _shared(row: Row, kind: GearKind) -> dict[str, Any]:
    """What every model has."""
    return {
        "id": row.thing_id,
        "kind": kind,
        "tag": row.text("model"),
        "lead_days": row.whole("lead_days"),
        "price": row.money("price"),
        "pack_quantity": row.whole("pack"),
        "least_quantity": row.whole("least_order"),
        "hire_price_per_week": row.money("hire_price"),
        "hire_lead_days": row.whole("hire_lead_days"),
        "cost_weight": row.real("scarcity"),
        "note": row.text("note"),
    }


def _say_blank(tag: str, blank: tuple[str, ...], ctx: Context) -> None:
    """Tell at once what would leave a show dark later."""
    if blank:
        what, are = ("limit", "is") if len(blank) == 1 else ("limits", "are")
        ctx.remark(
            f"{tag}: {listed(blank)} {are} not given, so its {what} {are} not known and the allocator will "
            "not choose it"
        )


def load_supply_models(rows: list[Row], ctx: Context, known: Known) -> None:
    kept: list[tuple[Row, dict[str, Any], list[dict[str, Any]]]] = []
    for row in rows:
        if not ctx.claim(row, "model", row.text("model")):
            continue
        full_degc, hottest_degc = row.real("full_to"), row.real("hottest")
        if full_degc is not None and hottest_degc is not None and hottest_degc <= full_degc:
            ctx.refuse(
                row, "hottest", f"{hottest_degc:g} °C is not above the {full_degc:g} °C of Full to",
                "Above Hottest it must be off; up to Full to it gives its whole rating.",
            )  # fmt: skip
        outputs = _outputs(row, ctx)
        caps_a = [output["cap_a"] for output in outputs]
        blank = supply_blanks(row.real("rated"), caps_a, full_degc, row.real("derate"), hottest_degc)
        _say_blank(row.text("model"), blank, ctx)
        kept.append((row, _supply_model(row, ctx, known), outputs))
    ids = ctx.put(SupplyModel, [model for _, model, _ in kept])
    parts = []
    for (row, model, outputs), i in zip(kept, ids, strict=True):
        parts += [output | {"model_id": i} for output in outputs]
        known.models.put(row, ModelFacts(i, model["tag"], GearKind.SUPPLY, len(outputs)))
    ctx.put_parts(SupplyOutput, (SupplyModel, "model_id"), "position", parts)


def _supply_model(row: Row, ctx: Context, known: Known) -> dict[str, Any]:
    volts = row.real("volts") or 0.0
    return _shared(row, GearKind.SUPPLY) | {
        "output_v": volts,
        "class_v": row.real("class") or nominal_class_v(volts),
        "rated_w": row.real("rated"),
        "efficiency": row.real("efficiency"),
        "power_factor": row.real("power_factor"),
        "inrush_a": row.real("inrush"),
        "full_to_degc": row.real("full_to"),
        "derate_per_k": None if row.real("derate") is None else (row.real("derate") or 0.0) / 100.0,
        "max_degc": row.real("hottest"),
        "load_factor": row.real("load_factor"),
        "is_class2": row.maybe("class_2"),
        "output_connector_id": ctx.find(connectors(known), row, "output_connector"),
    }


def _outputs(row: Row, ctx: Context) -> list[dict[str, Any]]:
    """Outputs from 1; the cap of an only output follows from watts and volts where it is not given."""
    volts, rated_w, count = row.real("volts") or 0.0, row.real("rated"), row.whole("outputs") or 1
    caps_a = ctx.each(row, "output_cap", count, "output")
    labels = ctx.each(row, "output_labels", count, "output")
    if not row.has("output_cap") and count == 1 and rated_w is not None and volts:
        caps_a = [rated_w / volts]
    return [{"position": n + 1, "cap_a": caps_a[n], "label": labels[n] or ""} for n in range(count)]


def load_decoder_models(rows: list[Row], ctx: Context, known: Known) -> None:
    kept: list[tuple[Row, dict[str, Any], list[dict[str, Any]]]] = []
    for row in rows:
        banks = _banks(row, ctx)
        if (row.real("lowest") or 0.0) > (row.real("highest") or 0.0):
            ctx.refuse(row, "lowest", "the lowest voltage is above the highest", "Swap the two.")
        if not ctx.claim(row, "model", row.text("model")) or row.is_broken:
            continue
        model = _decoder_model(row, ctx, known)
        _say_blank(model["tag"], decoder_blanks(model["channel_a"], [b["total_a"] for b in banks]), ctx)
        kept.append((row, model, banks))
    ids = ctx.put(DecoderModel, [model for _, model, _ in kept])
    parts = []
    for (row, model, banks), i in zip(kept, ids, strict=True):
        parts += [bank | {"model_id": i} for bank in banks]
        footprints = {"8-bit": model["footprint_8bit"], "16-bit": model["footprint_16bit"]}
        known.models.put(row, ModelFacts(i, model["tag"], GearKind.DECODER, model["channels"], footprints))
    ctx.put_parts(DecoderBank, (DecoderModel, "model_id"), "position", parts)


def _banks(row: Row, ctx: Context) -> list[dict[str, Any]]:
    """Power banks over all channels: as many as are said, or each with the channels said for it."""
    channels, total_a = row.whole("channels") or 1, row.real("total")
    sizes = [int(str(size)) for size in row.each("bank_channels")]
    banks = len(sizes) or row.whole("power_banks") or 1
    if sizes and sum(sizes) != channels:
        ctx.refuse(
            row, "bank_channels", f"the banks have {sum(sizes)} channels and the decoder {channels}",
            "Give each channel to one bank.",
        )  # fmt: skip
    if not sizes and channels % banks:
        ctx.refuse(
            row, "power_banks", f"{channels} channels cannot be shared out evenly over {banks} banks",
            "Give the channels of each bank.",
        )  # fmt: skip
    sizes = sizes or [channels // banks] * banks
    amps = ctx.each(row, "bank", banks, "bank")
    if banks == 1 and amps == [None]:
        # With several banks the makers' total says nothing about one of them: a bank then stays unknown.
        amps = [total_a]
    return [
        {
            "position": n + 1,
            "first_channel": 1 + sum(sizes[:n]),
            "channels": size,
            "total_a": amps[n],
        }
        for n, size in enumerate(sizes)
    ]


def _decoder_model(row: Row, ctx: Context, known: Known) -> dict[str, Any]:
    channels, is_pixel = row.whole("channels") or 1, row.text("signal", "level") == "pixel"
    return _shared(row, GearKind.DECODER) | {
        "channels": channels,
        "channel_a": row.real("channel"),
        "total_a": row.real("total"),
        "min_v": row.real("lowest"),
        "max_v": row.real("highest"),
        "polarity": row.text("polarity", POLARITIES[0]),
        "signal": row.text("signal", "level"),
        "link": row.text("link", "wired"),
        "pwm_hz": row.real("pwm"),
        "footprint_8bit": row.whole("slots_8_bit") or (None if is_pixel else channels),
        "footprint_16bit": row.whole("slots_16_bit"),
        "idle_w": row.real("idle"),
        "curve": row.text("curve"),
        "load_factor": row.real("load_factor"),
        "unit_loads": 1.0 if row.real("unit_loads") is None else row.real("unit_loads"),
        "control_connector_id": ctx.find(connectors(known), row, "control_connector"),
        "output_connector_id": ctx.find(connectors(known), row, "output_connector"),
    }


def load_battery_models(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = []
    for row in rows:
        if not ctx.claim(row, "model", row.text("model")):
            continue
        volts = row.real("volts") or 0.0
        model = _shared(row, GearKind.BATTERY) | {
            "nominal_v": volts,
            "class_v": row.real("class") or nominal_class_v(volts),
            "capacity_ah": row.real("capacity"),
            "rated_h": row.real("rated_over"),
            "usable_fraction": row.real("usable"),
            "max_a": row.real("max_current"),
            "is_regulated": row.maybe("regulated"),
            "chemistry": row.text("chemistry"),
            "charge_h": row.real("charge_time"),
            "peukert_exponent": row.real("peukert_exponent"),
            "converter_efficiency": row.real("converter_efficiency"),
        }
        _say_blank(row.text("model"), battery_blanks([row.real("max_current")]), ctx)
        kept.append((row, model))
    ids = ctx.put(BatteryModel, [model for _, model in kept])
    for (row, _), i in zip(kept, ids, strict=True):
        known.models.put(row, ModelFacts(i, row.text("model"), GearKind.BATTERY))


def _model_tag(example: str) -> Column:
    return tag(
        "Model",
        "Its type code",
        required=True,
        example=example,
        also=("type", "code"),
        field="tag",
        is_fixed=True,
    )


_MODEL_ENDS = (
    whole("Lead days", "Days from order to delivery", 0, 730, example="14"),
    Column("Price", Form.MONEY, "Price of one", low=0, high=100_000),
    whole("Pack", "Sold in packs of so many", 1, 1_000, default="1", example="2", field="pack_quantity"),
    whole(
        "Least order",
        "Fewest that can be ordered",
        1,
        10_000,
        default="1",
        example="4",
        field="least_quantity",
    ),
    Column(
        "Hire price",
        Form.MONEY,
        "Hire of one for a week; blank: not hired",
        low=0,
        high=100_000,
        example="6.50",
        field="hire_price_per_week",
    ),
    whole("Hire lead days", "Days from asking for a hire to its coming", 0, 730, example="5"),
    Column(
        "Scarcity",
        Form.NUMBER,
        "How hard the allocator saves it",
        low=0.01,
        high=100,
        default="1",
        field="cost_weight",
    ),
    text("Note", "Anything to know"),
)
_CLASS = quantity("Class", "V", "Class it counts as", 3, 60, field="class_v",
                  default="the nearest of 5, 12, 24, 48 V", also=("nominal class",))  # fmt: skip
_LOAD_FACTOR = Column("Load factor", Form.SHARE, "Share of its rating in use", low=0.1,
                      default="the house's 0.80")  # fmt: skip


def _of_parts(part: str, field: str) -> Callable[[Mapping[str, Any]], object]:
    """A figure of each row of a part, from a row of the list; nothing where none has it."""

    def read(row: Mapping[str, Any]) -> object:
        figures = tuple(each[field] for each in row[part])
        return figures if any(figure not in (None, "") for figure in figures) else None

    return read


def _spread_outputs(outputs: Sequence[Values]) -> Values:
    return {
        "outputs": len(outputs),
        "output_cap": tuple(o.get("cap") for o in outputs),
        "output_labels": tuple(o.get("label") for o in outputs),
    }


def _spread_banks(banks: Sequence[Values]) -> Values:
    return {
        "bank_channels": tuple(b["channels"] for b in banks),
        "bank": tuple(b.get("total") for b in banks),
    }


OUTPUTS = Part(
    "outputs",
    "its outputs, from 1; given, they take the place of all it has",
    (
        quantity("Cap", "A", "What it can give", 0.05, 300, example="13.3", field="cap_a"),
        text("Label", "What is printed beside it", 24, example="A"),
    ),
    _spread_outputs,
)


def _plain_banks(values: Values) -> Values:
    """So many banks of as many channels each, bank by bank."""
    banks, channels = values.pop("power_banks", None), values.get("channels")
    if "bank_channels" in values or not isinstance(banks, int) or not isinstance(channels, int):
        return values
    if channels % banks == 0:
        values["bank_channels"] = (channels // banks,) * banks
    return values


BANKS = Part(
    "banks",
    "its power banks in channel order; given, they take the place of all it has",
    (
        whole("Channels", "How many channels", 1, 512, required=True, example="4"),
        quantity("Total", "A", "What they may carry together", 0.01, 500, example="15", field="total_a"),
    ),
    _spread_banks,
)

SUPPLY_MODELS = Kind(
    "supply models",
    "a kind of power supply",
    (
        _model_tag("S320"),
        quantity("Volts", "V", "Output voltage", 3, 60, required=True, example="24", field="output_v"),
        quantity("Rated", "W", "Rated power", 1, 5_000, required=True, example="320",
                 also=("watts", "power"), field="rated_w"),
        whole("Outputs", "How many outputs", 1, 48, default="1", example="1", part="outputs",
              read=lambda r: len(r["outputs"])),
        quantity("Output cap", "A", "Amps of each output", 0.05, 300, example="13.3",
                 also=("output", "amps per output", "amps"), default="watts over volts if it has one output",
                 part="outputs", many=True, read=_of_parts("outputs", "cap_a")),
        text("Output labels", "What is printed beside each output", 24, example="A; B", part="outputs",
             many=True, read=_of_parts("outputs", "label")),
        Column("Efficiency", Form.SHARE, "Share that reaches the output", low=0.3, example="0.9"),
        Column("Power factor", Form.SHARE, "Of the mains current", low=0.2, example="0.98", also=("pf",)),
        quantity("Inrush", "A", "Peak when switched on cold", 0, 1_000, example="60", field="inrush_a"),
        quantity("Full to", "degC", "Hottest air in which it gives its rating", -40, 120, example="40",
                 field="full_to_degc", for_plan=True),
        quantity("Derate", "%/K", "Rating lost for each degree above that", 0, 100, example="2.5",
                 also=("derate pct per k",), field="derate_per_k", scale=100.0, for_plan=True),
        quantity("Hottest", "degC", "Air above which it must be off", -40, 150, example="70", also=("max",),
                 field="max_degc", for_plan=True),
        _CLASS,
        yes_no("Class 2", "Marked Class 2", field="is_class2"),
        tag("Output connector", "Kind of connector on its outputs", example="X4-F"),
        _LOAD_FACTOR,
        *_MODEL_ENDS,
    ),
    load_supply_models,
    "model",
    ("model",),
    ("supply types", "supply model"),
    listing=gear_queries.SUPPLY_MODELS,
    record=SupplyModel,
    parts=(OUTPUTS,),
    retire=retire_model,
)  # fmt: skip

DECODER_MODELS = Kind(
    "decoder models",
    "a kind of decoder, dimmer or pixel driver",
    (
        _model_tag("D4"),
        whole("Channels", "How many channels, or ports of a pixel driver", 1, 512, required=True,
              example="4"),
        quantity("Channel", "A", "Amps of each channel", 0.01, 100, example="5", field="channel_a",
                 also=("a per channel", "amps per channel"), for_plan=True),
        quantity("Total", "A", "Amps of all channels together", 0.01, 500, example="15", field="total_a",
                 also=("total amps",), for_plan=True),
        quantity("Lowest", "V", "Lowest supply voltage", 3, 60, required=True, example="12", also=("min",),
                 field="min_v"),
        quantity("Highest", "V", "Highest supply voltage", 3, 60, required=True, example="24", also=("max",),
                 field="max_v"),
        quantity("PWM", "Hz", "Dimming frequency", 50, 1_000_000, example="1000", field="pwm_hz"),
        choice("Polarity", POLARITIES, "Which rail of the tape is common", default="common positive"),
        choice("Link", LINKS, "How control reaches it", default="wired"),
        choice("Signal", SIGNALS, "Dimmed levels or pixel data", default="level"),
        whole("Power banks", "Groups of channels with a power feed each", 1, 64, default="1", part="banks",
              is_short=True),
        whole("Bank channels", "Channels of each group, in order", 1, 512, example="4; 4", part="banks",
              many=True, default="shared out evenly", read=_of_parts("banks", "channels")),
        quantity("Bank", "A", "Amps of each bank", 0.01, 500, part="banks", many=True,
                 default="the total, if it has only one", read=_of_parts("banks", "total_a")),
        whole("Slots 8-bit", "Control slots in 8-bit mode", 1, 512, default="one a channel",
              field="footprint_8bit"),
        whole("Slots 16-bit", "Control slots in 16-bit mode; blank: no such mode", 1, 512,
              field="footprint_16bit"),
        quantity("Idle", "W", "Draw with every channel dark", 0, 100, example="1.2", field="idle_w"),
        text("Curve", "Dimming curve", 24, example="linear"),
        Column("Unit loads", Form.NUMBER, "What it puts on a wired line (ANSI E1.11)", low=0.01, high=32,
               example="1", default="1"),
        tag("Control connector", "Kind of connector for its control", example="X5-M"),
        tag("Output connector", "Kind of connector on its channels", example="X4-F"),
        _LOAD_FACTOR,
        *_MODEL_ENDS,
    ),
    load_decoder_models,
    "model",
    ("model",),
    ("decoder types", "decoder model", "dimmer models"),
    listing=gear_queries.DECODER_MODELS,
    record=DecoderModel,
    parts=(BANKS,),
    plain=_plain_banks,
    retire=retire_model,
)  # fmt: skip

BATTERY_MODELS = Kind(
    "battery models",
    "a kind of battery",
    (
        _model_tag("B12-10"),
        quantity("Volts", "V", "Nominal voltage", 3, 60, required=True, example="12.8", field="nominal_v"),
        quantity("Capacity", "Ah", "Rated charge", 0.05, 1_000, example="10", field="capacity_ah"),
        quantity("Rated over", "h", "Hours of the rated discharge", 0.05, 100, example="20", field="rated_h"),
        Column(
            "Usable", Form.SHARE, "Share that may be drawn", low=0.1, example="0.8", field="usable_fraction"
        ),
        quantity(
            "Max current", "A", "Most it may give", 0.05, 500, example="15", field="max_a", for_plan=True
        ),
        yes_no("Regulated", "Holds its voltage until it is empty", field="is_regulated"),
        text("Chemistry", "What it is made of", 60, example="lithium iron phosphate"),
        quantity("Charge time", "h", "Hours from empty to full", 0.1, 100, example="4", field="charge_h"),
        Column("Peukert exponent", Form.NUMBER, "Blank: the energy method", low=1, high=2),
        Column("Converter efficiency", Form.SHARE, "Of a converter in the pack", low=0.3),
        _CLASS,
        *_MODEL_ENDS,
    ),
    load_battery_models,
    "model",
    ("model",),
    ("battery types", "battery model"),
    listing=gear_queries.BATTERY_MODELS,
    record=BatteryModel,
    retire=retire_model,
)
