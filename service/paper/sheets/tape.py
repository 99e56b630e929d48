"""Sheets of tape: its kinds and its reels."""

import re

from service.paper.rows.columns import (
    Column,
    Kind,
    choice,
    day,
    length,
    per_metre,
    quantity,
    tag,
    text,
    whole,
)
from service.paper.rows.typed import Row, Sheet
from service.paper.sheets.context import Context
from service.paper.sheets.known import Known, ReelFacts, TapeFacts
from service.stock.records import Cut, CutKind, Emitter, Reel, ReelState, Tape

POLARITIES = ("common positive", "common negative")
_CLASSES_V = (5.0, 12.0, 24.0, 48.0)


def nominal_class_v(volts: float) -> float:
    """The class a voltage counts as: within 10 % of 5, 12, 24 or 48 V, else itself (common practice).

    >>> nominal_class_v(12.8), nominal_class_v(25.6), nominal_class_v(36.0)
    (12.0, 24.0, 36.0)
    """
    return next((c for c in _CLASSES_V if abs(volts - c) <= 0.1 * c), volts)


def _ip(row: Row, ctx: Context) -> int | None:
    stated = row.text("ip")
    match = re.fullmatch(r"(?:IP)?\s*(\d{2})[A-Z]?", stated, re.I)
    if stated and match is None:
        ctx.refuse(row, "ip", f"{stated!r} is not an ingress rating", "Write IP20 or 67 (IEC 60529).")
    return int(match[1]) if match else None


def _colours(row: Row, count: int) -> list[dict[str, float | None]]:
    """Kelvin or nanometres of each emitter, where the colour is plainly that: "2700/6500 K", "395 nm"."""
    match = re.fullmatch(r"([\d./ ]+)\s*(K|nm)", row.text("colour"))
    figures = [float(f) for f in match[1].split("/")] if match else []
    if match is None or len(figures) != count:
        return [{}] * count
    return [{"cct_k" if match[2] == "K" else "wavelength_nm": figure} for figure in figures]


def load_tapes(rows: list[Row], ctx: Context, known: Known) -> None:
    tapes: list[tuple[Row, Tape]] = []
    for row in rows:
        if not ctx.claim(row, "tape", row.text("tape")):
            continue
        emitters: tuple[tuple[str, float], ...] = row.one_of("emitters", ())
        pitch_um, volts, reel_um = row.um("pitch") or 1, row.real("volts") or 0.0, row.um("reel_length")
        reel_pitches = None if reel_um is None else reel_um // pitch_um
        if reel_um is not None and reel_um % pitch_um:
            ctx.remark(f"tapes: a reel of {row.text('tape')} counts as {reel_pitches} whole cut pitches")
        tape = Tape(
            tag=row.text("tape"),
            nominal_v=volts,
            class_v=row.real("class") or nominal_class_v(volts),
            polarity=row.text("polarity", POLARITIES[0]),
            signal="pixel" if row.has("pixels_per_m") else "level",
            pitch_um=pitch_um,
            reel_pitches=reel_pitches,
            max_run_um=row.um("max_run"),
            common_ohm_per_m=row.real("common_rail"),
            ip=_ip(row, ctx),
            leds_per_m=row.real("leds_per_m"),
            colour=row.text("colour"),
            pixels_per_m=row.real("pixels_per_m"),
            slots_per_pixel=row.whole("slots_per_pixel"),
            pixel_idle_w=row.real("pixel_idle"),
            pwm_hz=row.real("pwm"),
            led_drop_v=row.real("led_drop"),
            price=row.money("price"),
            lead_days=row.whole("lead_days"),
            emitters=[
                Emitter(
                    position=n, name=name, w_per_m=w_per_m, return_ohm_per_m=row.real("return_rail"), **colour
                )
                for n, ((name, w_per_m), colour) in enumerate(
                    zip(emitters, _colours(row, len(emitters)), strict=True), start=1
                )
            ],
        )
        tapes.append((row, tape))
    ctx.add(tape for _, tape in tapes)
    for row, tape in tapes:
        facts = TapeFacts(tape.id or 0, tape.tag, tape.pitch_um, tuple(e.name for e in tape.emitters))
        known.tapes.put(row, facts)


def load_reels(rows: list[Row], ctx: Context, known: Known) -> None:
    """Each reel and the ledger row that opens it; lengths are whole cut pitches, rounded down."""
    kept: list[tuple[Row, ReelFacts, dict[str, object]]] = []
    for row in rows:
        claimed = ctx.claim(row, "reel", row.text("reel"))
        tape = ctx.find(known.tapes, row, "tape")
        place, parent = ctx.find(known.places, row, "bin"), ctx.find(known.reels, row, "cut_from")
        received_um, opening_um = row.um("received"), row.um("opening")
        if received_um is None and opening_um is None:
            ctx.refuse(
                row, "opening", "the length is not known", "Give the length received or the length counted."
            )
        if not claimed or tape is None or row.is_broken:
            ctx.mark_broken(row)
            continue
        received = None if received_um is None else received_um // tape.pitch_um
        left = (opening_um if opening_um is not None else received_um or 0) // tape.pitch_um
        state = row.one_of("state", _state(left, received))
        facts = ReelFacts(0, row.text("reel"), tape, left, state, row.has("state"))
        values = {
            "tag": facts.tag,
            "tape_id": tape.id,
            "lot": row.text("lot"),
            "place_id": place,
            "state": state,
            "received_pitches": received,
            "left_pitches": left,
            "parent_id": None if parent is None else parent.id,
            "received_on": row.day("received_on"),
            "note": row.text("note"),
        }
        kept.append((row, facts, values))
        known.reels.put(row, facts)
    ids = ctx.put(Reel, [values for _, _, values in kept])
    for (_, facts, _), i in zip(kept, ids, strict=True):
        facts.id = i
    ctx.put(
        Cut,
        [
            {
                "reel_id": facts.id,
                "kind": CutKind.OPENING if row.has("opening") else CutKind.RECEIVED,
                "change_pitches": facts.left_pitches,
                "cut_on": row.day("counted_on") or row.day("received_on") or ctx.today,
                "entered_by": ctx.by,
            }
            for row, facts, _ in kept
            if facts.left_pitches
        ],
    )


def _state(left: int, received: int | None) -> ReelState:
    if left == 0:
        return ReelState.USED_UP
    return ReelState.SEALED if left == received else ReelState.OPEN


TAPES = Sheet(
    "tapes",
    "a kind of tape",
    (
        tag("Tape", "Its code", required=True, example="RGBW24", also=("code", "tag", "type")),
        quantity("Volts", "V", "Nominal voltage", 3, 60, required=True, example="24", also=("voltage",)),
        Column("Emitters", Kind.EMITTERS, "Power of each emitter at full, in pad order", required=True,
               unit="W/m", low=0.05, high=100, example="R=4.8; G=4.8; B=4.8; W=4.8", also=("power",)),
        length("Pitch", "Distance between permitted cuts", 0.001, 2, required=True, example="100 mm",
               also=("cut pitch",)),
        length("Reel length", "Length of a new reel", 0.1, 500, example="5 m", also=("reel",)),
        length("Max run", "Maker's longest run fed at one end", 0.05, 200, example="5 m",
               also=("longest run",)),
        per_metre("Common rail", "ohm/m", "Resistance of the common at 20 °C", 1e-5, 10, example="25 mΩ/m"),
        per_metre("Return rail", "ohm/m", "Resistance of each return at 20 °C", 1e-5, 10, example="50 mΩ/m"),
        text("Colour", "Colour temperature, wavelength or mix", 80, example="RGB+4000 K", also=("color",)),
        text("IP", "Ingress rating", 12, example="IP20"),
        Column("Price", Kind.MONEY, "Price of a reel", low=0, high=100_000, example="84"),
        choice("Polarity", POLARITIES, "Which rail is common", default="common positive"),
        quantity("Class", "V", "Class it counts as", 3, 60, default="the nearest of 5, 12, 24, 48 V"),
        whole("Lead days", "Days from order to delivery", 0, 730, example="21"),
        quantity("LEDs per m", "/m", "LEDs on a metre", 1, 2000, example="60", also=("leds",)),
        quantity("Pixels per m", "/m", "Addressable pixels on a metre; blank: not addressable", 0.5, 1000,
                 also=("pixels",)),
        whole("Slots per pixel", "Control slots of one pixel", 1, 12),
        quantity("Pixel idle", "W", "Draw of one dark pixel", 0, 5),
        quantity("PWM", "Hz", "Dimming frequency of addressable tape", 50, 1_000_000),
        quantity("LED drop", "V", "Voltage the LEDs themselves take", 0, 60),
    ),
    load_tapes,
    "tape",
    ("tape",),
    ("tape", "tape types", "tape models"),
)  # fmt: skip

REELS = Sheet(
    "reels",
    "one continuous length of a tape, from one lot",
    (
        tag("Reel", "Its tag", required=True, example="R-101", also=("tag",)),
        tag("Tape", "Which tape it is", required=True, example="RGBW24"),
        text("Lot", "Colour bin on its label", 40, example="C-26F"),
        tag("Bin", "Where it lies", example="A3", also=("place",)),
        length("Received", "Length as received", 0, 500, example="5 m", also=("initial",)),
        length("Opening", "Length counted on the day below, before the cuts of the sheet cuts", 0, 500,
               default="the length received"),
        day("Counted on", "Day the opening length was true", default="today"),
        choice("State", ReelState, "Its state", default="sealed, open or used up, by its length"),
        tag("Cut from", "The reel this offcut came off", also=("parent",)),
        day("Received on", "Day it came in"),
        text("Note", "Anything to know"),
    ),
    load_reels,
    "reel",
    ("reel",),
    ("reel",),
)  # fmt: skip
