"""Sheets of the shows: scenic units, elements with their runs and pieces, running orders and cuts."""

import re
import unicodedata
from typing import Any

from service.electrical.tape import Fit, cut_pitches
from service.paper.rows.columns import Column, Kind, choice, day, length, quantity, tag, text, whole, yes_no
from service.paper.rows.typed import Row, Sheet
from service.paper.sheets.context import Context
from service.paper.sheets.known import ElementFacts, Known, ProductionFacts, RunFacts, TapeFacts, group_key
from service.shows.records import (
    Cue,
    Element,
    ElementStatus,
    FeedStyle,
    FitRule,
    Group,
    GroupKind,
    Motion,
    Piece,
    Run,
    ScenicUnit,
    Zone,
)
from service.stock.records import Place, PlaceKind
from service.units import show_um

NEEDS = ("battery", "wireless")
_Pieces = list[tuple[int, int | None]]  # drawn length in µm, whole cut pitches


def scenic_tag(production: str, name: str) -> str:
    """The tag a scenic unit goes by as a place, when its sheet gives none.

    >>> scenic_tag("SQ", "Ice wall"), scenic_tag("CO", "Café, left")
    ('SQ-ICE-WALL', 'CO-CAFE-LEFT')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().upper()
    return f"{production}-{re.sub(r'[^A-Z0-9]+', '-', plain).strip('-') or 'UNIT'}"[:40]


def load_scenic_units(rows: list[Row], ctx: Context, known: Known) -> None:
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        stands = ctx.find(known.places, row, "place")
        if production is not None and ctx.claim_name(known.scenic_units, row, "scenic_unit"):
            known.scenic_units.put(row, _scenic_unit(row, ctx, known, production, stands))


def _scenic_unit(
    row: Row,
    ctx: Context,
    known: Known,
    production: ProductionFacts,
    stands: int | None,
    given_name: str = "",
) -> int:
    """The scenic unit and the place that it is; without a sheet of its own it stands still and dry."""
    name = given_name or row.text("scenic_unit")
    place_tag = ("" if given_name else row.text("tag")) or scenic_tag(production.tag, name)
    if not ctx.claim(row, "scenic_unit", place_tag):
        return 0
    place = {"tag": place_tag, "name": name, "kind": PlaceKind.SCENIC_UNIT, "parent_id": stands}
    place_id = ctx.put(Place, [place])[0]
    known.places.put(row, place_id, place_tag)
    values = {
        "production_id": production.id,
        "place_id": place_id,
        "name": name,
        "motion": Motion.STATIC if given_name else row.one_of("motion", Motion.STATIC),
        "zone": Zone.DRY if given_name else row.one_of("zone", Zone.DRY),
        "has_travelling_cable": False if given_name else row.flag("travelling_cable", False),
    }
    return ctx.put(ScenicUnit, [values])[0]


def _unit_of(row: Row, ctx: Context, known: Known, production: ProductionFacts) -> int | None:
    name = row.text("scenic_unit")
    if not name:
        return None
    key = f"{production.tag}\t{name}"
    if known.scenic_units.get(key) is None and "scenic units" not in ctx.sheets:
        ctx.remark(f"scenic unit {name!r} of {production.tag} was made: it stands still and is dry")
        known.scenic_units.put(row, _scenic_unit(row, ctx, known, production, None, name), key)
    return ctx.named(known.scenic_units, row, "scenic_unit", key, name)


def _group(row: Row, ctx: Context, known: Known, production: ProductionFacts, kind: GroupKind) -> int | None:
    """The group of that name in the production, made when it is first named."""
    name = row.text(f"{kind.value}_group")
    if not name:
        return None
    # In a check no ids are given, so the production's tag keeps groups of two shows apart.
    key = group_key(production.id, kind, name if production.id else f"{production.tag} {name}")
    found = known.groups.get(key)
    if found is None:
        found = ctx.put(Group, [{"production_id": production.id, "kind": kind, "name": name}])[0]
        known.groups.put(row, found, key)
    return found


def _drawn_um(row: Row, ctx: Context) -> tuple[int, ...]:
    pieces: tuple[int, ...] = row.one_of("pieces", ())
    length_um = row.um("length")
    if pieces and (length_um is not None or row.has("count")):
        ctx.refuse(row, "pieces", "pieces and length are both given", "Keep one way of saying it.")
    elif length_um is not None:
        pieces = (length_um,) * (row.whole("count") or 1)
    elif not pieces:
        ctx.refuse(
            row, "pieces", "no piece is given", "Write for example '3 x 750 mm', or a length and a count."
        )
    return pieces


def _wired(row: Row, ctx: Context, tape: TapeFacts | None) -> str:
    """The emitters that reach a channel, in pad order; all of them unless the sheet says otherwise."""
    asked = row.names("emitters_wired")
    if tape is None:
        return " ".join(asked)
    known = {name.upper(): name for name in tape.emitters}
    for name in asked:
        if name.upper() not in known:
            ctx.refuse(
                row,
                "emitters_wired",
                f"{tape.tag} has no emitter {name!r}",
                f"It has {', '.join(tape.emitters)}.",
            )
    wanted = {name.upper() for name in asked} or set(known)
    return " ".join(name for name in tape.emitters if name.upper() in wanted)


def _pieces(row: Row, ctx: Context, tape: TapeFacts | None, fit: FitRule) -> _Pieces:
    """Drawn length and whole cut pitches of each piece; no pitches while the tape is undecided."""
    pieces: _Pieces = []
    for drawn_um in _drawn_um(row, ctx):
        pitches = None if tape is None else cut_pitches(drawn_um, tape.pitch_um, Fit(fit.value))
        if tape is not None and not pitches:
            ctx.refuse(
                row, "pieces" if row.has("pieces") else "length",
                f"{show_um(drawn_um)} is shorter than one cut pitch of {tape.tag}, {show_um(tape.pitch_um)}",
                "Draw it longer, or set Fit to cover.",
            )  # fmt: skip
        pieces.append((drawn_um, pitches))
    return pieces


def _element(row: Row, ctx: Context, known: Known) -> tuple[dict[str, Any], ProductionFacts, _Pieces] | None:
    claimed = ctx.claim(row, "element", row.text("element"))
    production = ctx.find(known.productions, row, "production")
    tape = ctx.find(known.tapes, row, "tape")
    place = ctx.find(known.places, row, "place")
    fit: FitRule = row.one_of("fit", FitRule.INSIDE)
    status: ElementStatus = row.one_of("status", ElementStatus.ASKED)
    pieces, needs = _pieces(row, ctx, tape, fit), {n.lower() for n in row.names("needs")}
    if needs - set(NEEDS):
        ctx.refuse(
            row, "needs", f"{', '.join(sorted(needs - set(NEEDS)))} is not known", "Choose battery, wireless."
        )
    if production is None:
        return None
    zone: Zone | None = row.one_of("zone", None)
    values: dict[str, Any] = {
        "tag": row.text("element"),
        "production_id": production.id,
        "name": row.text("name") or row.text("element"),
        "scenic_unit_id": _unit_of(row, ctx, known, production),
        "place_id": place,
        "tape_id": None if tape is None else tape.id,
        "wired": _wired(row, ctx, tape),
        "is_dimmed": row.flag("dimmed", True),
        "control_group_id": _group(row, ctx, known, production, GroupKind.CONTROL),
        "match_group_id": _group(row, ctx, known, production, GroupKind.MATCH),
        "mount": row.text("mount").lower() or None,
        "zone": zone,
        "needs_battery": "battery" in needs,
        "needs_wireless": "wireless" in needs,
        "priority": row.whole("priority") or 3,
        "status": status,
        "fit": fit,
        "join_allowed": row.flag("join_allowed", False),
        "cap_pct": row.real("level_cap"),
        "cap_enforced_where": row.text("cap_enforced"),
        "cap_signed_by": row.text("cap_signed_by"),
        "cap_signed_on": row.day("cap_signed_on"),
        "note": row.text("note"),
    }
    return None if row.is_broken or not claimed else (values, production, pieces)


def load_elements(rows: list[Row], ctx: Context, known: Known) -> None:
    """Elements, then all their runs, then all their pieces: three statements however many there are."""
    kept = []
    for row in rows:
        found = _element(row, ctx, known)
        if found is None:
            ctx.mark_broken(row)
        else:
            kept.append((row, *found))
    ids = ctx.put(Element, [values for _, values, _, _ in kept])
    runs: list[dict[str, Any]] = []
    chains: list[tuple[ElementFacts, _Pieces]] = []
    for (row, _, production, drawn), i in zip(kept, ids, strict=True):
        facts = ElementFacts(i, row.text("element"), production.tag, row.text("tape"), [])
        known.elements.put(row, facts)
        in_runs = [drawn] if row.flag("chained", False) else [[piece] for piece in drawn]
        leads = _leads(row, len(in_runs), ctx)
        for number, chain in enumerate(in_runs, start=1):
            runs.append(_run(row, i, number, leads[number - 1]))
            chains.append((facts, chain))
    run_ids = ctx.put(Run, runs)
    pieces = [
        {"run_id": run_id, "number": n, "drawn_um": drawn_um, "cut_pitches": pitches}
        for run_id, (_, chain) in zip(run_ids, chains, strict=True)
        for n, (drawn_um, pitches) in enumerate(chain, start=1)
    ]
    piece_ids = iter(ctx.put(Piece, pieces))
    for run_id, run, (facts, chain) in zip(run_ids, runs, chains, strict=True):
        facts.runs.append(RunFacts(run_id, run["number"], [next(piece_ids) for _ in chain]))


def _leads(row: Row, runs: int, ctx: Context) -> list[int | None]:
    """A lead for each run, in order; one length counts for all."""
    given: tuple[int, ...] = row.one_of("lead", ())
    if len(given) not in (0, 1, runs):
        ctx.refuse(
            row, "lead", f"{len(given)} leads for {runs} {'run' if runs == 1 else 'runs'}",
            "Give one length for all runs, or one for each.",
        )  # fmt: skip
        return [None] * runs
    return list(given) if len(given) == runs else [given[0] if given else None] * runs


def _run(row: Row, element_id: int, number: int, lead_um: int | None) -> dict[str, Any]:
    style: FeedStyle = row.one_of("feed_style", FeedStyle.ONE)
    return {
        "element_id": element_id,
        "number": number,
        "feed_style": style,
        "lead_um": lead_um,
        "lead_gauge": row.text("lead_gauge") or None,
    }


def load_cues(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    steps: dict[tuple[str, int], int] = {}
    for row in rows:
        element, step = ctx.find(known.elements, row, "element"), row.whole("step") or 0
        earlier = steps.setdefault((row.text("element").upper(), step), row.number)
        if earlier != row.number:
            ctx.refuse(
                row, "step", f"step {step} comes twice: also in row {earlier}", "Number the steps 1, 2, 3 …"
            )
        if element is not None:
            values.append(
                {
                    "element_id": element.id,
                    "number": step,
                    "name": row.text("name"),
                    "minutes": row.real("minutes"),
                    "level_pct": row.real("level"),
                }
            )
    ctx.put(Cue, values)


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"))

SCENIC_UNITS = Sheet(
    "scenic units",
    "a piece of scenery, a prop or a costume that carries elements",
    (
        _PRODUCTION,
        text(
            "Scenic unit", "What it is called", 120, required=True, example="Ice wall", also=("name", "unit")
        ),
        choice("Motion", Motion, "How it moves", default="static"),
        choice("Zone", Zone, "How wet it gets", default="dry"),
        yes_no("Travelling cable", "A cable follows it as it moves", default="no"),
        tag("Place", "Where it stands", example="SL-DR"),
        tag("Tag", "Its own tag", default="the production's code and its name"),
    ),
    load_scenic_units,
    "scenic unit",
    ("production", "scenic_unit"),
    ("scenery", "scenic unit"),
)
ELEMENTS = Sheet(
    "elements",
    "something that must light up",
    (
        tag("Element", "Its code", required=True, example="SQ-07", also=("tag", "code")),
        _PRODUCTION,
        text("Name", "What it is", 120, example="Attic window 1", default="its code"),
        text("Scenic unit", "The piece of scenery it is on", 120, example="Attic row", also=("unit",)),
        tag("Place", "Where it is, if not on a scenic unit", example="SL-DL"),
        tag("Tape", "Code of the tape; blank: undecided", example="NW24"),
        Column("Pieces", Kind.LENGTHS, "Pieces as drawn, in order", unit="m", low=0.001, high=200,
               example="3 x 750 mm", also=("segments",)),
        length("Length", "Length of each piece as drawn, instead of Pieces", 0.001, 200, example="1300 mm"),
        whole("Count", "How many pieces of that length", 1, 400, default="1", also=("quantity",)),
        choice("Fit", FitRule, "How a drawn length becomes whole cut pitches", default="inside"),
        yes_no("Join allowed", "A piece may have a join inside it", default="no"),
        yes_no("Chained", "All pieces are one run on one lead", default="no: a run for each piece"),
        choice("Feed style", FeedStyle, "Where a run is fed: one end, both or the middle", default="one",
               also=("feed", "fed at")),
        Column("Lead", Kind.LENGTHS, "Length of each run's lead, one way; one length counts for all runs",
               unit="m", low=0, high=500, example="5 m", also=("lead length", "leads")),
        Column("Lead gauge", Kind.GAUGE, "Size of each core of the lead", bare_unit="AWG", example="18 AWG",
               also=("lead awg", "awg", "gauge", "wire")),
        text("Mount", "What it is fixed to", 40, example="aluminium"),
        choice("Zone", Zone, "How wet it gets", default="its scenic unit's"),
        text("Match group", "Seen together: one tape, one lot", 80, example="attic", also=("match",)),
        text("Control group", "Moves together: shares channels", 80),
        Column("Emitters wired", Kind.LIST, "Emitters that reach a channel", example="R G B W", default="all",
               also=("wired",)),
        yes_no("Dimmed", "Through a decoder or dimmer", default="yes"),
        Column("Needs", Kind.LIST, "battery, wireless or both"),
        whole("Priority", "1 is fed first", 1, 9, default="3"),
        choice("Status", ElementStatus, "How far it is", default="asked"),
        Column("Level cap", Kind.NUMBER, "Highest level in per cent; it never hides a load", low=1, high=100,
               also=("level cap %", "cap pct")),
        text("Cap enforced", "Where the cap is enforced", 120, also=("cap enforced where",)),
        text("Cap signed by", "Who signed for it", 80),
        day("Cap signed on", "When"),
        text("Note", "Anything to know"),
    ),
    load_elements,
    "element",
    ("element",),
    ("element",),
)  # fmt: skip
CUES = Sheet(
    "running orders",
    "one stretch of an element's running order",
    (
        tag("Element", "The element", required=True, example="SQ-23"),
        whole("Step", "Its place in the order", 1, 10_000, required=True, example="1", also=("seq",)),
        text("Name", "What it is", 80, example="act one", also=("segment",)),
        quantity("Minutes", "min", "How long it lasts", 0.01, 1_440, required=True, example="20",
                 also=("time",)),
        Column("Level", Kind.NUMBER, "Level in per cent", required=True, low=0, high=100, example="100",
               also=("level %", "level pct")),
    ),
    load_cues,
    also=("cues", "running order", "battery profile"),
)  # fmt: skip
