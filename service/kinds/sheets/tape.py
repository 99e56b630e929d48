"""Sheets of tape: its kinds and its reels."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from service.kinds.columns import (
    Column,
    Form,
    choice,
    day,
    length,
    per_metre,
    quantity,
    tag,
    text,
    whole,
)
from service.kinds.kind import Kind, Part, Values
from service.kinds.retiring import retire_reel, retire_tape
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ReelFacts, TapeFacts
from service.kinds.writing.nesting import Nested, turns
from service.stock import queries
from service.stock.ledger.balance import whole_pitches
from service.stock.records import Cut, CutKind, Emitter, Reel, ReelState, Tape

POLARITIES = ("common positive", "common negative")
_CLASSES_V = (5.0, 12.0, 24.0, 48.0)


def nominal_class_v(volts: float) -> float:
    """The class a voltage counts as: within 10 % of 5, 12, 24 or 48 V, else itself (common practice).

    >>> nominal_class_v(12.8), nominal_class_v(25.6), nominal_class_v(36.0)
    (12.0, 24.0, 36.0)
    """
    return next((c for c in _CLASSES_V if abs(volts - c) <= 0.1 * c), volts)


def _colours(row: Row, count: int) -> list[dict[str, float | None]]:
    """Kelvin or nanometres of each emitter, where the colour is plainly that: "2700/6500 K", "395 nm"."""
    match = re.fullmatch(r"([\d./ ]+)\s*(K|nm)", row.text("colour"))
    figures = [float(f) for f in match[1].split("/")] if match else []
    if match is None or len(figures) != count:
        return [{}] * count
    return [{"cct_k" if match[2] == "K" else "wavelength_nm": figure} for figure in figures]


def load_tapes(rows: list[Row], ctx: Context, known: Known) -> None:
    """Tapes, then all their emitters."""
    kept: list[tuple[Row, dict[str, Any], list[dict[str, Any]]]] = []
    for row in rows:
        claimed, emitters = ctx.claim(row, "tape", row.text("tape")), _emitters(row, ctx)
        if claimed and not row.is_broken:
            kept.append((row, _tape(row, ctx), emitters))
    ids = ctx.put(Tape, [tape for _, tape, _ in kept])
    parts = []
    for (row, tape, emitters), i in zip(kept, ids, strict=True):
        parts += [emitter | {"tape_id": i} for emitter in emitters]
        names = tuple(emitter["name"] for emitter in emitters)
        known.tapes.put(row, TapeFacts(i, tape["tag"], tape["pitch_um"], names))
    ctx.put_parts(Emitter, (Tape, "tape_id"), "position", parts, name="name")


def _tape(row: Row, ctx: Context) -> dict[str, Any]:
    pitch_um, volts, reel_um = row.um("pitch") or 1, row.real("volts") or 0.0, row.um("reel_length")
    reel_pitches = None if reel_um is None else whole_pitches(reel_um, pitch_um)
    if reel_um is not None and reel_um % pitch_um:
        ctx.remark(f"tapes: a reel of {row.text('tape')} counts as {reel_pitches} whole cut pitches")
    return {
        "id": row.thing_id,
        "tag": row.text("tape"),
        "nominal_v": volts,
        "class_v": row.real("class") or nominal_class_v(volts),
        "polarity": row.text("polarity", POLARITIES[0]),
        "signal": "pixel" if row.has("pixels_per_m") else "level",
        "pitch_um": pitch_um,
        "reel_pitches": reel_pitches,
        "max_run_um": row.um("max_run"),
        "common_ohm_per_m": row.real("common_rail"),
        "ip": row.whole("ip"),
        "leds_per_m": row.real("leds_per_m"),
        "colour": row.text("colour"),
        "pixels_per_m": row.real("pixels_per_m"),
        "slots_per_pixel": row.whole("slots_per_pixel"),
        "pixel_idle_w": row.real("pixel_idle"),
        "pwm_hz": row.real("pwm"),
        "led_drop_v": row.real("led_drop"),
        "measured_w_per_m": row.real("measured"),
        "price": row.money("price"),
        "lead_days": row.whole("lead_days"),
        "pack_quantity": row.whole("pack"),
        "least_quantity": row.whole("least_order"),
    }


def _emitters(row: Row, ctx: Context) -> list[dict[str, Any]]:
    """Each emitter in pad order; kelvin or nanometres as given, or where the colour is plainly that."""
    named: tuple[tuple[str, float], ...] = row.one_of("emitters", ())
    count = len(named)
    rails = ctx.each(row, "return_rail", count, "emitter")
    kelvins, waves = (ctx.each(row, key, count, "emitter") for key in ("colour_temperature", "wavelength"))
    if not row.has("colour_temperature") and not row.has("wavelength"):
        colours = _colours(row, count)
        kelvins, waves = [c.get("cct_k") for c in colours], [c.get("wavelength_nm") for c in colours]
    return [
        {
            "position": n + 1,
            "name": name,
            "w_per_m": w_per_m,
            "return_ohm_per_m": rails[n],
            "cct_k": kelvins[n],
            "wavelength_nm": waves[n],
        }
        for n, (name, w_per_m) in enumerate(named)
    ]


def load_reels(rows: list[Row], ctx: Context, known: Known) -> None:
    """Reels in any order: one may be cut from another of the sheet."""
    found, circles = turns([Nested(row, row.text("reel"), "cut_from") for row in rows])
    for each in circles:
        ctx.refuse(
            each.row, each.column, f"{each.tag} would be cut from itself", "Name the reel it was cut from."
        )
    for turn in found:
        _load_reels([each.row for each in turn], ctx, known)
    for row in rows:
        if known.reels.get(row.text("reel")) is None:
            ctx.mark_broken(row)


def _load_reels(rows: list[Row], ctx: Context, known: Known) -> None:
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
        if row.thing_id is not None:
            _change_reel(row, place, ctx, known)
            continue
        received = None if received_um is None else whole_pitches(received_um, tape.pitch_um)
        left = whole_pitches(received_um or 0 if opening_um is None else opening_um, tape.pitch_um)
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
                "entered_by": row.text("opened_by") or ctx.by,
            }
            for row, facts, _ in kept
            if facts.left_pitches
        ],
    )


def _change_reel(row: Row, place: int | None, ctx: Context, known: Known) -> None:
    """What it is and holds stays as its ledger says; its lot, place, state and note may be put right."""
    facts = known.reels.get(row.text("reel"))
    state: ReelState = row.one_of("state", ReelState(facts.state) if facts else ReelState.OPEN)
    values = {
        "id": row.thing_id,
        "lot": row.text("lot"),
        "place_id": place,
        "state": state,
        "received_on": row.day("received_on"),
        "note": row.text("note"),
    }
    ctx.put(Reel, [values])


def _state(left: int, received: int | None) -> ReelState:
    if left == 0:
        return ReelState.USED_UP
    return ReelState.SEALED if left == received else ReelState.OPEN


def of_emitters(field: str) -> Callable[[Mapping[str, Any]], object]:
    """A figure of each emitter, from a row of the list of tapes; nothing where no emitter has it."""

    def read(row: Mapping[str, Any]) -> object:
        figures = tuple(emitter[field] for emitter in row["emitters"])
        return figures if any(figure is not None for figure in figures) else None

    return read


def _spread(emitters: Sequence[Values]) -> Values:
    return {
        "emitters": tuple((e["name"], e["power"]) for e in emitters),
        "return_rail": tuple(e.get("return_rail") for e in emitters),
        "colour_temperature": tuple(e.get("colour_temperature") for e in emitters),
        "wavelength": tuple(e.get("wavelength") for e in emitters),
    }


EMITTERS = Part(
    "emitters",
    "its emitters in pad order; given, they take the place of all it has",
    (
        text("Name", "What it is called", 24, required=True, example="R"),
        quantity("Power", "W/m", "Power at full", 0.05, 100, required=True, example="4.8", field="w_per_m"),
        quantity("Return rail", "ohm/m", "Resistance of its return at 20 °C", 1e-5, 10, example="0.05",
                 field="return_ohm_per_m"),
        quantity("Colour temperature", "K", "If it is white", 1_000, 40_000, example="4000", field="cct_k"),
        quantity("Wavelength", "nm", "If it is coloured", 200, 2_000, example="625", field="wavelength_nm"),
    ),
    _spread,
)  # fmt: skip

TAPES = Kind(
    "tapes",
    "a kind of tape",
    (
        tag("Tape", "Its code", required=True, example="RGBW24", also=("code", "tag", "type"), field="tag",
            is_fixed=True),
        quantity("Volts", "V", "Nominal voltage", 3, 60, required=True, example="24", also=("voltage",),
                 field="nominal_v"),
        Column("Emitters", Form.EMITTERS, "Power of each emitter at full, in pad order", required=True,
               unit="W/m", low=0.05, high=100, example="R=4.8; G=4.8; B=4.8; W=4.8 W/m", also=("power",),
               part="emitters", read=lambda r: tuple((e["name"], e["w_per_m"]) for e in r["emitters"])),
        length("Pitch", "Distance between permitted cuts", 0.001, 2, required=True, example="100 mm",
               also=("cut pitch",), field="pitch_mm", is_fixed=True),
        length("Reel length", "Length of a new reel", 0.1, 500, example="5 m", also=("reel",),
               field="reel_length_m"),
        length("Max run", "Maker's longest run fed at one end", 0.05, 200, example="5 m",
               also=("longest run",), field="max_run_m"),
        per_metre("Common rail", "ohm/m", "Resistance of the common at 20 °C", 1e-5, 10, example="25 mΩ/m",
                  field="common_ohm_per_m"),
        per_metre("Return rail", "ohm/m", "Resistance of each return at 20 °C", 1e-5, 10, example="50 mΩ/m",
                  part="emitters", many=True, read=of_emitters("return_ohm_per_m")),
        text("Colour", "Colour temperature, wavelength or mix", 80, example="RGB+4000 K", also=("color",)),
        quantity("Colour temperature", "K", "Of each emitter that is white", 1_000, 40_000,
                 part="emitters", many=True, read=of_emitters("cct_k"), default="what Colour plainly says"),
        quantity("Wavelength", "nm", "Of each emitter that is coloured", 200, 2_000,
                 part="emitters", many=True, read=of_emitters("wavelength_nm"),
                 default="what Colour plainly says"),
        Column("IP", Form.INGRESS, "Ingress rating, the two digits", low=0, high=69, example="IP20"),
        Column("Price", Form.MONEY, "Price of a reel", low=0, high=100_000, example="84"),
        per_metre("Measured", "W/m", "All emitters together at full, as measured in the house",
                  0.05, 600, example="19.8 W/m", field="measured_w_per_m"),
        choice("Polarity", POLARITIES, "Which rail is common", default="common positive"),
        quantity("Class", "V", "Class it counts as", 3, 60, field="class_v",
                 default="the nearest of 5, 12, 24, 48 V"),
        whole("Lead days", "Days from order to delivery", 0, 730, example="21"),
        whole("Pack", "Reels, sold in packs of so many", 1, 1_000, default="1", example="2",
              field="pack_quantity"),
        whole("Least order", "Fewest reels that can be ordered", 1, 10_000, default="1", example="4",
              field="least_quantity"),
        quantity("LEDs per m", "/m", "LEDs on a metre", 1, 2000, example="60", also=("leds",)),
        quantity("Pixels per m", "/m", "Addressable pixels on a metre; blank: not addressable", 0.5, 1000,
                 also=("pixels",), field="pixels_per_m"),
        whole("Slots per pixel", "Control slots of one pixel", 1, 12),
        quantity("Pixel idle", "W", "Draw of one dark pixel", 0, 5, field="pixel_idle_w"),
        quantity("PWM", "Hz", "Dimming frequency of addressable tape", 50, 1_000_000, field="pwm_hz"),
        quantity("LED drop", "V", "Voltage the LEDs themselves take", 0, 60, field="led_drop_v"),
    ),
    load_tapes,
    "tape",
    ("tape",),
    ("tape", "tape types", "tape models"),
    listing=queries.TAPES,
    record=Tape,
    parts=(EMITTERS,),
    retire=retire_tape,
    label=("colour",),
)  # fmt: skip

REELS = Kind(
    "reels",
    "one continuous length of a tape, from one lot",
    (
        tag("Reel", "Its tag", required=True, example="R-101", also=("tag",), field="tag", is_fixed=True),
        tag("Tape", "Which tape it is", required=True, example="RGBW24", is_fixed=True),
        text("Lot", "Colour bin on its label", 40, example="C-26F"),
        tag("Bin", "Where it lies", example="A3", also=("place",), field="place"),
        length("Received", "Length as received", 0, 500, example="5 m", also=("initial",),
               field="received_m", is_fixed=True),
        length("Opening", "Length counted on the day below, before its cuts", 0, 500,
               default="the length received", field="opening_m", is_fixed=True),
        day("Counted on", "Day the opening length was true", default="today", is_fixed=True),
        text("Opened by", "Who wrote the opening length down", 80, default="who brings it in", is_fixed=True),
        choice("State", ReelState, "Its state", default="sealed, open or used up, by its length"),
        tag("Cut from", "The reel this offcut came off", also=("parent",), field="parent", is_fixed=True),
        day("Received on", "Day it came in"),
        text("Note", "Anything to know"),
    ),
    load_reels,
    "reel",
    ("reel",),
    ("reel",),
    listing=queries.REELS,
    record=Reel,
    retire=retire_reel,
    label=("tape", "lot"),
)  # fmt: skip
