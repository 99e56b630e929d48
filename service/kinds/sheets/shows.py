"""The sheet of elements, with their runs and pieces."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sqlalchemy import func, select

from service.electrical.tape import Fit, cut_pitches
from service.errors import InUse
from service.kinds.columns import Column, Form, choice, day, length, quantity, tag, text, whole, yes_no
from service.kinds.kind import Kind, Part, Values
from service.kinds.retiring import retire_element
from service.kinds.row import Row
from service.kinds.sheets.scenery import make_scenic_unit
from service.kinds.steps import elements
from service.kinds.upkeep.fittings import connectors
from service.kinds.writing.context import Context
from service.kinds.writing.known import ElementFacts, Known, ProductionFacts, RunFacts, TapeFacts, group_key
from service.shows import queries
from service.shows.records import (
    Element,
    ElementStatus,
    FeedStyle,
    FitRule,
    Group,
    GroupKind,
    Piece,
    PieceCut,
    Run,
    Zone,
)
from service.units import show_um

NEEDS = ("battery", "wireless")
NONE_WIRED = ("none",)
_Pieces = list[tuple[int, int | None]]  # drawn length in µm, whole cut pitches; one run


def _unit_of(row: Row, ctx: Context, known: Known, production: ProductionFacts) -> int | None:
    name = row.text("scenic_unit")
    if not name:
        return None
    key = f"{production.tag}\t{name}"
    if known.scenic_units.get(key) is None and ctx.makes("scenic units"):
        ctx.remark(f"scenic unit {name!r} of {production.tag} was made: it stands still and is dry")
        known.scenic_units.put(row, make_scenic_unit(row, ctx, known, production, None, name), key)
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


def _drawn_um(row: Row, ctx: Context) -> tuple[tuple[int, ...], ...]:
    """The drawn lengths of the pieces of each run."""
    runs: tuple[tuple[int, ...], ...] = row.one_of("pieces", ())
    length_um = row.um("length")
    if runs and (length_um is not None or row.has("count")):
        ctx.refuse(row, "pieces", "pieces and length are both given", "Keep one way of saying it.")
    elif length_um is not None:
        runs = ((length_um,),) * (row.whole("count") or 1)
    elif not runs:
        ctx.refuse(
            row, "pieces", "no piece is given", "Write for example '3 x 750 mm', or a length and a count."
        )
    if row.flag("chained", False):
        return (tuple(um for run in runs for um in run),) if runs else ()
    return runs


def _wired(row: Row, ctx: Context, tape: TapeFacts | None) -> str:
    """The emitters that reach a channel, in pad order; all of them unless the sheet says otherwise."""
    asked = row.names("emitters_wired")
    if asked == NONE_WIRED:
        return ""
    if tape is None:
        if asked and row.thing_id is None:
            ctx.refuse(
                row, "emitters_wired", "nothing can be wired while the tape is undecided",
                "Name the tape too.",
            )  # fmt: skip
        return ""
    known = {name.upper(): name for name in tape.emitters}
    unknown = [name for name in asked if name.upper() not in known]
    if unknown:
        ctx.refuse(
            row, "emitters_wired", f"{tape.tag} has no emitter {', '.join(map(repr, unknown))}",
            f"It has {', '.join(tape.emitters)}.",
        )  # fmt: skip
    wanted = {name.upper() for name in asked} or set(known)
    return " ".join(name for name in tape.emitters if name.upper() in wanted)


def _runs(row: Row, ctx: Context, tape: TapeFacts | None, fit: FitRule) -> list[_Pieces]:
    """Drawn length and whole cut pitches of each piece of each run; none while the tape is undecided."""
    runs: list[_Pieces] = []
    for drawn in _drawn_um(row, ctx):
        pieces: _Pieces = []
        for drawn_um in drawn:
            pitches = None if tape is None else cut_pitches(drawn_um, tape.pitch_um, Fit(fit.value))
            if tape is not None and not pitches:
                ctx.refuse(
                    row, "pieces" if row.has("pieces") else "length",
                    f"{show_um(drawn_um)} is shorter than one cut pitch of {tape.tag}, "
                    f"{show_um(tape.pitch_um)}",
                    "Draw it longer, or set Fit to cover.",
                )  # fmt: skip
            pieces.append((drawn_um, pitches))
        runs.append(pieces)
    return runs


def _element(
    row: Row, ctx: Context, known: Known
) -> tuple[dict[str, Any], ProductionFacts, list[_Pieces]] | None:
    claimed = ctx.claim(row, "element", row.text("element"))
    production = ctx.find(known.productions, row, "production")
    tape = ctx.find(known.tapes, row, "tape")
    place = ctx.find(known.places, row, "place")
    fit: FitRule = row.one_of("fit", FitRule.INSIDE)
    status: ElementStatus = row.one_of("status", ElementStatus.ASKED)
    runs, needs = _runs(row, ctx, tape, fit), {n.lower() for n in row.names("needs")}
    if needs - set(NEEDS):
        ctx.refuse(
            row, "needs", f"{', '.join(sorted(needs - set(NEEDS)))} is not known", "Choose battery, wireless."
        )
    _refuse_bare_cap(row, ctx)
    if row.thing_id is not None and not row.is_broken:
        _refuse_other_tape(row, tape, ctx)
    if production is None:
        return None
    zone: Zone | None = row.one_of("zone", None)
    values: dict[str, Any] = {
        "id": row.thing_id,
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
        "needs_battery": row.flag("needs_battery", "battery" in needs),
        "needs_wireless": row.flag("needs_wireless", "wireless" in needs),
        "priority": row.whole("priority") or 3,
        "status": status,
        "status_note": row.text("status_note"),
        "fit": fit,
        "join_allowed": row.flag("join_allowed", False),
        "cap_pct": row.real("level_cap"),
        "cap_enforced_where": row.text("cap_enforced"),
        "cap_signed_by": row.text("cap_signed_by"),
        "cap_signed_on": row.day("cap_signed_on"),
        "note": row.text("note"),
    }
    return None if row.is_broken or not claimed else (values, production, runs)


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
    for (row, _, production, in_runs), i in zip(kept, ids, strict=True):
        facts = ElementFacts(i, row.text("element"), production.tag, row.text("tape"), [])
        known.elements.put(row, facts)
        runs += _run_values(row, i, len(in_runs), ctx, known)
        chains += [(facts, chain) for chain in in_runs]
    run_ids = ctx.put_parts(Run, (Element, "element_id"), "number", runs, below=((Piece, "run_id"),))
    pieces = [
        {"run_id": run_id, "number": n, "drawn_um": drawn_um, "cut_pitches": pitches}
        for run_id, (_, chain) in zip(run_ids, chains, strict=True)
        for n, (drawn_um, pitches) in enumerate(chain, start=1)
    ]
    _keep_what_is_cut(rows, pieces, ctx)
    piece_ids = iter(ctx.put_parts(Piece, (Run, "run_id"), "number", pieces))
    ctx.bump(Element, {run["element_id"] for run in runs if run.get("id") in ctx.changed.get(Run, ())})
    for run_id, run, (facts, chain) in zip(run_ids, runs, chains, strict=True):
        facts.runs.append(RunFacts(run_id, run["number"], [next(piece_ids) for _ in chain]))


def _keep_what_is_cut(rows: list[Row], pieces: list[dict[str, Any]], ctx: Context) -> None:
    """A piece that is cut stays as it was cut, whatever the fit rule says now."""
    if ctx.is_checking_only or all(row.thing_id is None for row in rows):
        return
    runs = sorted({piece["run_id"] for piece in pieces})
    cut = select(Piece.run_id, Piece.number, Piece.cut_pitches).join(PieceCut).where(Piece.run_id.in_(runs))
    as_cut = {(run, number): pitches for run, number, pitches in ctx.session.execute(cut)}
    for piece in pieces:
        piece["cut_pitches"] = as_cut.get((piece["run_id"], piece["number"]), piece["cut_pitches"])


def _refuse_other_tape(row: Row, tape: TapeFacts | None, ctx: Context) -> None:
    """What is cut keeps its tape."""
    element = ctx.session.get_one(Element, row.thing_id)
    if element.tape_id == (None if tape is None else tape.id):
        return
    pieces = select(func.count(Piece.id.distinct())).select_from(PieceCut).join(Piece).join(Run)
    cut = ctx.session.scalar(pieces.where(Run.element_id == element.id)) or 0
    if cut:
        raise InUse(
            f"{cut} of the pieces of {element.tag} {'is' if cut == 1 else 'are'} cut already",
            "Return or scrap what was cut before the tape is changed.",
        )


def _refuse_bare_cap(row: Row, ctx: Context) -> None:
    if row.has("level_cap") and not (row.has("cap_enforced") and row.has("cap_signed_by")):
        ctx.refuse(
            row, "level_cap", "the level cap must say where it is enforced and who signed it",
            "Give both: a cap that nobody holds is none.",
        )  # fmt: skip


def _run_values(row: Row, element_id: int, count: int, ctx: Context, known: Known) -> list[dict[str, Any]]:
    """Every run of an element: a lead, a gauge and a feed style for each, or one that counts for all."""
    styles, leads, gauges, cores, plugs = (
        ctx.each(row, key, count, "run")
        for key in ("feed_style", "lead", "lead_gauge", "lead_cores", "lead_connector")
    )
    index = connectors(known)
    return [
        {
            "element_id": element_id,
            "number": n + 1,
            "feed_style": styles[n] or FeedStyle.ONE,
            "lead_um": leads[n],
            "lead_gauge": gauges[n],
            "lead_cores": cores[n],
            "lead_connector_id": plugs[n] and ctx.named(index, row, "lead_connector", plugs[n]),
        }
        for n in range(count)
    ]


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"),
                  is_fixed=True)  # fmt: skip


def _of_runs(field: str) -> Callable[[Mapping[str, Any]], object]:
    """A field of each run, from a row of the list of elements; nothing where no run has it."""

    def read(row: Mapping[str, Any]) -> object:
        values = tuple(run[field] for run in row["runs"])
        return values if any(value is not None for value in values) else None

    return read


def _leads_um(row: Mapping[str, Any]) -> object:
    leads = [run["lead_m"] for run in row["runs"]]
    if all(lead is None for lead in leads):
        return None
    return tuple(None if lead is None else round(lead * 1_000_000) for lead in leads)


def _spread_runs(runs: Sequence[Values]) -> Values:
    return {
        "pieces": tuple(run["pieces"] for run in runs),
        "feed_style": tuple(run.get("feed_style") for run in runs),
        "lead": tuple(run.get("lead") for run in runs),
        "lead_gauge": tuple(run.get("lead_gauge") for run in runs),
        "lead_cores": tuple(run.get("lead_cores") for run in runs),
        "lead_connector": tuple(run.get("lead_connector") for run in runs),
    }


RUNS = Part(
    "runs",
    "its runs, each on a lead of its own; given, they take the place of all it has",
    (
        Column("Pieces", Form.RUNS, "Its pieces", required=True, part="pieces"),
        choice("Feed style", FeedStyle, "Fed at one end, both or in the middle", default="one"),
        length("Lead", "Length of its lead, one way", 0, 500, example="5 m", field="lead_m"),
        Column("Lead gauge", Form.GAUGE, "Size of each core of the lead", example="18 AWG"),
        whole("Lead cores", "How many cores its lead has", 1, 60, example="5"),
        tag("Lead connector", "Kind of connector on its lead", example="X4-M"),
    ),
    _spread_runs,
    (
        Part(
            "pieces",
            "its pieces in the order they are chained",
            (
                length("Drawn", "Length as drawn", 0.001, 200, required=True, example="750 mm",
                       field="drawn_mm"),
            ),
            lambda pieces: {"pieces": tuple(piece["drawn"] for piece in pieces)},
        ),
    ),
)  # fmt: skip


def _plain_element(values: Values) -> Values:
    """Length, count and chained said as pieces run by run; needs said one by one."""
    length_um, count, is_chained = (values.pop(key, None) for key in ("length", "count", "chained"))
    if isinstance(length_um, int) and "pieces" not in values:
        values["pieces"] = ((length_um,),) * (count if isinstance(count, int) else 1)
    runs = values.get("pieces")
    if is_chained and isinstance(runs, tuple):
        values["pieces"] = (tuple(um for run in runs for um in run),)
    needs = values.pop("needs", None)
    if isinstance(needs, tuple):
        values |= {f"needs_{need.lower()}": True for need in needs}
    return values


ELEMENTS = Kind(
    "elements",
    "something that must light up",
    (
        tag("Element", "Its code", required=True, example="SQ-07", also=("tag", "code"), field="tag",
            is_fixed=True),
        _PRODUCTION,
        text("Name", "What it is", 120, example="Attic window 1", default="its code"),
        text("Scenic unit", "The piece of scenery it is on", 120, example="Attic row", also=("unit",)),
        tag("Place", "Where it is, if not on a scenic unit", example="SL-DL"),
        tag("Tape", "Code of the tape; blank: undecided", example="NW24"),
        Column("Pieces", Form.RUNS, "Pieces as drawn, in order; + chains pieces in one run", required=False,
               unit="m", low=0.001, high=200, example="3 x 750 mm", also=("segments",), part="runs",
               read=lambda r: tuple(tuple(round(p["drawn_mm"] * 1_000) for p in run["pieces"])
                                    for run in r["runs"])),
        length("Length", "Length of each piece as drawn, instead of Pieces", 0.001, 200, example="1300 mm",
               is_short=True),
        whole("Count", "How many pieces of that length", 1, 400, default="1", also=("quantity",),
              is_short=True),
        choice("Fit", FitRule, "How a drawn length becomes whole cut pitches", default="inside"),
        yes_no("Join allowed", "A piece may have a join inside it", default="no"),
        yes_no("Chained", "All pieces are one run on one lead", default="no: a run for each piece",
               is_short=True),
        choice("Feed style", FeedStyle, "Where a run is fed: one end, both or the middle", default="one",
               also=("feed", "fed at"), part="runs", many=True, read=_of_runs("feed_style")),
        length("Lead", "Length of each run's lead, one way; one length counts for all runs", 0, 500,
               example="5 m", also=("lead length", "leads"), part="runs", many=True, read=_leads_um),
        Column("Lead gauge", Form.GAUGE, "Size of each core of the lead", bare_unit="AWG", example="18 AWG",
               also=("lead awg", "awg", "gauge", "wire"), part="runs", many=True,
               read=_of_runs("lead_gauge")),
        whole("Lead cores", "How many cores each run's lead has", 1, 60, example="5", part="runs", many=True,
              read=_of_runs("lead_cores")),
        tag("Lead connector", "Kind of connector on each run's lead", example="X4-M", part="runs", many=True,
            read=_of_runs("lead_connector")),
        text("Mount", "What it is fixed to", 40, example="aluminium"),
        choice("Zone", Zone, "How wet it gets", default="its scenic unit's"),
        text("Match group", "Seen together: one tape, one lot", 80, example="attic", also=("match",)),
        text("Control group", "Moves together: shares channels", 80),
        Column("Emitters wired", Form.LIST, "Emitters that reach a channel", example="R G B W", default="all",
               also=("wired",), field="wired"),
        yes_no("Dimmed", "Through a decoder or dimmer", default="yes", field="is_dimmed"),
        Column("Needs", Form.LIST, "battery, wireless or both", is_short=True),
        yes_no("Needs battery", "It must run from a battery", default="no"),
        yes_no("Needs wireless", "Control must reach it without wire", default="no"),
        whole("Priority", "1 is fed first", 1, 9, default="3"),
        choice("Status", ElementStatus, "How far it is", default="asked"),
        text("Status note", "What was said when it came to stand there", example="no light at all"),
        quantity("Level cap", "%", "Highest level; it never hides a load", 1, 100,
               also=("level cap %", "cap pct"), field="cap_pct"),
        text("Cap enforced", "Where the cap is enforced", 120, also=("cap enforced where",),
             field="cap_enforced_where"),
        text("Cap signed by", "Who signed for it", 80),
        day("Cap signed on", "When"),
        text("Note", "Anything to know"),
    ),
    load_elements,
    "element",
    ("element",),
    ("element",),
    listing=queries.ELEMENTS,
    record=Element,
    parts=(RUNS,),
    plain=_plain_element,
    stepping=elements.STEPPING,
    retire=retire_element,
    label=("name", "scenic_unit", "production"),
)  # fmt: skip
