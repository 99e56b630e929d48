"""Sheets of models: supplies, decoders and batteries as kinds."""

from service.limits.blanks import battery_blanks, decoder_blanks, listed, supply_blanks
from service.paper.rows.columns import Column, Kind, choice, quantity, tag, text, whole, yes_no
from service.paper.rows.typed import Row, Sheet
from service.paper.sheets.context import Context
from service.paper.sheets.known import Known, ModelFacts
from service.paper.sheets.tape import POLARITIES, nominal_class_v
from service.stock.gear import BatteryModel, DecoderBank, DecoderModel, GearKind, SupplyModel, SupplyOutput

LINKS = ("wired", "wireless", "network", "local")
SIGNALS = ("level", "pixel")


def _shared(row: Row) -> dict[str, object]:
    """What every model has."""
    return {
        "tag": row.text("model"),
        "lead_days": row.whole("lead_days"),
        "price": row.money("price"),
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
    models: list[tuple[Row, SupplyModel]] = []
    for row in rows:
        if not ctx.claim(row, "model", row.text("model")):
            continue
        full_degc, hottest_degc = row.real("full_to"), row.real("hottest")
        if full_degc is not None and hottest_degc is not None and hottest_degc <= full_degc:
            ctx.refuse(
                row, "hottest", f"{hottest_degc:g} °C is not above the {full_degc:g} °C of Full to",
                "Above Hottest it must be off; up to Full to it gives its whole rating.",
            )  # fmt: skip
        volts, rated_w, outputs = row.real("volts") or 0.0, row.real("rated"), row.whole("outputs") or 1
        cap_a = row.real("output_cap")
        if cap_a is None and outputs == 1 and rated_w is not None:
            cap_a = rated_w / volts
        model = SupplyModel(
            **_shared(row),
            output_v=volts,
            class_v=row.real("class") or nominal_class_v(volts),
            rated_w=rated_w,
            efficiency=row.real("efficiency"),
            power_factor=row.real("power_factor"),
            inrush_a=row.real("inrush"),
            full_to_degc=row.real("full_to"),
            derate_per_k=None if row.real("derate") is None else (row.real("derate") or 0.0) / 100.0,
            max_degc=row.real("hottest"),
            load_factor=row.real("load_factor"),
            is_class2=row.maybe("class_2"),
            outputs=[SupplyOutput(position=n, cap_a=cap_a) for n in range(1, outputs + 1)],
        )
        blank = supply_blanks(rated_w, [cap_a], full_degc, row.real("derate"), hottest_degc)
        _say_blank(model.tag, blank, ctx)
        models.append((row, model))
    ctx.add(model for _, model in models)
    for row, model in models:
        known.models.put(row, ModelFacts(model.id or 0, model.tag, GearKind.SUPPLY, len(model.outputs)))


def load_decoder_models(rows: list[Row], ctx: Context, known: Known) -> None:
    models: list[tuple[Row, DecoderModel]] = []
    for row in rows:
        channels, banks = row.whole("channels") or 1, row.whole("power_banks") or 1
        if channels % banks:
            ctx.refuse(
                row, "power_banks", f"{channels} channels cannot be shared out evenly over {banks} banks",
                "Give the number of banks with the same number of channels each.",
            )  # fmt: skip
        if (row.real("lowest") or 0.0) > (row.real("highest") or 0.0):
            ctx.refuse(row, "lowest", "the lowest voltage is above the highest", "Swap the two.")
        if not ctx.claim(row, "model", row.text("model")) or row.is_broken:
            continue
        model = _decoder_model(row, channels, banks)
        _say_blank(model.tag, decoder_blanks(model.channel_a, [b.total_a for b in model.banks]), ctx)
        models.append((row, model))
    ctx.add(model for _, model in models)
    for row, model in models:
        footprints = {"8-bit": model.footprint_8bit, "16-bit": model.footprint_16bit}
        facts = ModelFacts(model.id or 0, model.tag, GearKind.DECODER, model.channels, footprints)
        known.models.put(row, facts)


def _decoder_model(row: Row, channels: int, banks: int) -> DecoderModel:
    each, total_a = channels // banks, row.real("total")
    # With several banks the makers' total says nothing about one of them: a bank then stays unknown.
    bank_a = row.real("bank") if banks > 1 else (row.real("bank") or total_a)
    pixel = row.text("signal", "level") == "pixel"
    return DecoderModel(
        **_shared(row),
        channels=channels,
        channel_a=row.real("channel"),
        total_a=total_a,
        min_v=row.real("lowest"),
        max_v=row.real("highest"),
        polarity=row.text("polarity", POLARITIES[0]),
        signal=row.text("signal", "level"),
        link=row.text("link", "wired"),
        pwm_hz=row.real("pwm"),
        footprint_8bit=row.whole("slots_8_bit") or (None if pixel else channels),
        footprint_16bit=row.whole("slots_16_bit"),
        idle_w=row.real("idle"),
        curve=row.text("curve"),
        load_factor=row.real("load_factor"),
        banks=[
            DecoderBank(position=n + 1, first_channel=n * each + 1, channels=each, total_a=bank_a)
            for n in range(banks)
        ],
    )


def load_battery_models(rows: list[Row], ctx: Context, known: Known) -> None:
    models: list[tuple[Row, BatteryModel]] = []
    for row in rows:
        if not ctx.claim(row, "model", row.text("model")):
            continue
        volts = row.real("volts") or 0.0
        model = BatteryModel(
            **_shared(row),
            nominal_v=volts,
            class_v=row.real("class") or nominal_class_v(volts),
            capacity_ah=row.real("capacity"),
            rated_h=row.real("rated_over"),
            usable_fraction=row.real("usable"),
            max_a=row.real("max_current"),
            is_regulated=row.maybe("regulated"),
            chemistry=row.text("chemistry"),
            charge_h=row.real("charge_time"),
            peukert_exponent=row.real("peukert_exponent"),
            converter_efficiency=row.real("converter_efficiency"),
        )
        _say_blank(model.tag, battery_blanks([model.max_a]), ctx)
        models.append((row, model))
    ctx.add(model for _, model in models)
    for row, model in models:
        known.models.put(row, ModelFacts(model.id or 0, model.tag, GearKind.BATTERY))


def _model_tag(example: str) -> Column:
    return tag("Model", "Its type code", required=True, example=example, also=("type", "code"))


_MODEL_ENDS = (
    whole("Lead days", "Days from order to delivery", 0, 730, example="14"),
    Column("Price", Kind.MONEY, "Price of one", low=0, high=100_000),
    Column("Scarcity", Kind.NUMBER, "How hard the allocator saves it", low=0.01, high=100, default="1"),
    text("Note", "Anything to know"),
)
_CLASS = quantity("Class", "V", "Class it counts as", 3, 60, default="the nearest of 5, 12, 24, 48 V",
                  also=("nominal class",))  # fmt: skip
_LOAD_FACTOR = Column("Load factor", Kind.SHARE, "Share of its rating in use", low=0.1,
                      default="the house's 0.80")  # fmt: skip

SUPPLY_MODELS = Sheet(
    "supply models",
    "a kind of power supply",
    (
        _model_tag("S320"),
        quantity("Volts", "V", "Output voltage", 3, 60, required=True, example="24"),
        quantity("Rated", "W", "Rated power", 1, 5_000, required=True, example="320",
                 also=("watts", "power")),
        whole("Outputs", "How many outputs", 1, 48, default="1", example="1"),
        quantity("Output cap", "A", "Amps of each output", 0.05, 300, example="13.3",
                 also=("output", "amps per output", "amps"), default="watts over volts if it has one output"),
        Column("Efficiency", Kind.SHARE, "Share that reaches the output", low=0.3, example="0.9"),
        Column("Power factor", Kind.SHARE, "Of the mains current", low=0.2, example="0.98", also=("pf",)),
        quantity("Inrush", "A", "Peak when switched on cold", 0, 1_000, example="60"),
        quantity("Full to", "degC", "Hottest air in which it gives its rating", -40, 120, example="40"),
        quantity("Derate", "%/K", "Rating lost for each degree above that", 0, 100, example="2.5",
                 also=("derate pct per k",)),
        quantity("Hottest", "degC", "Air above which it must be off", -40, 150, example="70", also=("max",)),
        _CLASS,
        yes_no("Class 2", "Marked Class 2"),
        _LOAD_FACTOR,
        *_MODEL_ENDS,
    ),
    load_supply_models,
    "model",
    ("model",),
    ("supply types", "supply model"),
)  # fmt: skip

DECODER_MODELS = Sheet(
    "decoder models",
    "a kind of decoder, dimmer or pixel driver",
    (
        _model_tag("D4"),
        whole("Channels", "How many channels, or ports of a pixel driver", 1, 512, required=True,
              example="4"),
        quantity("Channel", "A", "Amps of each channel", 0.01, 100, example="5",
                 also=("a per channel", "amps per channel")),
        quantity("Total", "A", "Amps of all channels together", 0.01, 500, example="15",
                 also=("total amps",)),
        quantity("Lowest", "V", "Lowest supply voltage", 3, 60, required=True, example="12", also=("min",)),
        quantity("Highest", "V", "Highest supply voltage", 3, 60, required=True, example="24", also=("max",)),
        quantity("PWM", "Hz", "Dimming frequency", 50, 1_000_000, example="1000"),
        choice("Polarity", POLARITIES, "Which rail of the tape is common", default="common positive"),
        choice("Link", LINKS, "How control reaches it", default="wired"),
        choice("Signal", SIGNALS, "Dimmed levels or pixel data", default="level"),
        whole("Power banks", "Groups of channels with a power feed each", 1, 64, default="1"),
        quantity("Bank", "A", "Amps of one bank, if it has several", 0.01, 500),
        whole("Slots 8-bit", "Control slots in 8-bit mode", 1, 512, default="one a channel"),
        whole("Slots 16-bit", "Control slots in 16-bit mode; blank: no such mode", 1, 512),
        quantity("Idle", "W", "Draw with every channel dark", 0, 100, example="1.2"),
        text("Curve", "Dimming curve", 24, example="linear"),
        _LOAD_FACTOR,
        *_MODEL_ENDS,
    ),
    load_decoder_models,
    "model",
    ("model",),
    ("decoder types", "decoder model", "dimmer models"),
)  # fmt: skip

BATTERY_MODELS = Sheet(
    "battery models",
    "a kind of battery",
    (
        _model_tag("B12-10"),
        quantity("Volts", "V", "Nominal voltage", 3, 60, required=True, example="12.8"),
        quantity("Capacity", "Ah", "Rated charge", 0.05, 1_000, example="10"),
        quantity("Rated over", "h", "Hours of the rated discharge", 0.05, 100, example="20"),
        Column("Usable", Kind.SHARE, "Share that may be drawn", low=0.1, example="0.8"),
        quantity("Max current", "A", "Most it may give", 0.05, 500, example="15"),
        yes_no("Regulated", "Holds its voltage until it is empty"),
        text("Chemistry", "What it is made of", 60, example="lithium iron phosphate"),
        quantity("Charge time", "h", "Hours from empty to full", 0.1, 100, example="4"),
        Column("Peukert exponent", Kind.NUMBER, "Blank: the energy method", low=1, high=2),
        Column("Converter efficiency", Kind.SHARE, "Of a converter in the pack", low=0.3),
        _CLASS,
        *_MODEL_ENDS,
    ),
    load_battery_models,
    "model",
    ("model",),
    ("battery types", "battery model"),
)
