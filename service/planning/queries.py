"""What feeds this, what does this feed, what goes dark if it is pulled. Read on the kept plans.

The statements are built once: looking up a feed must not wait for one to be put together.
"""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, and_, bindparam, case, func, or_, select
from sqlalchemy.orm import aliased

from service.control.addresses import channel_slot
from service.electrical.supplies import ambient_factor
from service.electrical.tape import FeedStyle, leads_of
from service.errors import BadQuantity, NotFound
from service.limits.basis import together
from service.limits.policy import DEFAULT, stored_figure
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus, UnfedRun
from service.season.records import Production
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, is_test_in_force, load_basis
from service.shows.records import Element, Piece, Run, ScenicUnit
from service.stock.gear import (
    BatteryModel,
    GearKind,
    GearModel,
    SupplyModel,
    SupplyOutput,
    Unit,
)
from service.stock.records import Emitter, Outlet, Place, PolicyRow, Tape
from service.store.base import tag_key

Rows = Sequence[Mapping[Any, Any]]

_supply, _decoder, _box = aliased(Unit), aliased(Unit), aliased(Unit)
_supply_model = GearModel.__table__.alias("supply_kind")
_decoder_model = GearModel.__table__.alias("decoder_kind")
_rating, _pack = SupplyModel.__table__.c, BatteryModel.__table__.c
_stand, _unit_place, _decoder_stand = aliased(Place), aliased(Place), aliased(Place)
_decoder_placing = aliased(Placing)
_PITCHES = select(func.sum(Piece.cut_pitches)).where(Piece.run_id == Run.id).correlate(Run).scalar_subquery()
_W_PER_M = (
    select(func.sum(Emitter.w_per_m)).where(Emitter.tape_id == Tape.id).correlate(Tape).scalar_subquery()
)


def _policy(name: str) -> Any:
    return select(PolicyRow.value).where(PolicyRow.name == name).scalar_subquery()


_FEED = (
    select(
        Element.id.label("element_id"), Element.tag.label("element"), Element.name, Element.status,
        Element.version, Element.wired, Element.tape_id, Production.tag.label("production"),
        ScenicUnit.name.label("scenic_unit"), ScenicUnit.motion, _unit_place.tag.label("place"),
        _unit_place.name.label("place_name"),
        Run.id.label("run_id"), Run.number.label("run"), Run.feed_style, Run.lead_um, Run.lead_gauge,
        _PITCHES.label("pitches"), Tape.tag.label("tape"), Tape.pitch_um, Tape.class_v, Tape.signal,
        *FIGURES, BenchTest.id.label("test_id"), BenchTest.version.label("test_version"),
        Plan.id.label("plan_id"), Plan.number.label("plan"), Allotment.id.label("allotment_id"),
        Allotment.version.label("allotment_version"), Allotment.supply_id, Allotment.output,
        Allotment.decoder_id, Allotment.first_channel, Allotment.channels, Allotment.is_locked,
        Allotment.override_reason,
        _supply.tag.label("supply"), _supply.kind.label("supply_kind"), _supply.state.label("supply_state"),
        _supply.state_note.label("supply_note"), _supply_model.c.tag.label("supply_model"),
        _rating.rated_w, _rating.load_factor, _rating.full_to_degc, _rating.derate_per_k,
        _rating.max_degc, _pack.max_a, _pack.class_v.label("pack_v"), SupplyOutput.cap_a,
        SupplyOutput.label.label("output_label"),
        _decoder.tag.label("decoder"), _decoder.state.label("decoder_state"),
        _decoder.state_note.label("decoder_note"), _decoder_model.c.tag.label("decoder_model"),
        _stand.tag.label("supply_place"), _stand.name.label("supply_place_name"),
        _decoder_stand.tag.label("decoder_place"), _decoder_stand.name.label("decoder_place_name"),
        _box.tag.label("enclosure"), Outlet.tag.label("outlet"), Outlet.kind.label("outlet_kind"),
        Outlet.position.label("outlet_position"),
        Patch.universe, Patch.start, Patch.mode, UnfedRun.because, UnfedRun.mend,
        _policy("load_factor").label("house_load_factor"),
        _policy("output_factor").label("house_output_factor"),
        _policy("open_air_degc").label("house_degc"),
    )
    .select_from(Element)
    .join(Production, Production.id == Element.production_id)
    .join(Run, Run.element_id == Element.id)
    .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
    .outerjoin(_unit_place, _unit_place.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
    .outerjoin(Tape, Tape.id == Element.tape_id)
    .outerjoin(BenchTest, is_test_in_force())
    .outerjoin(
        Plan, and_(Plan.production_id == Production.id, Plan.status == PlanStatus.KEPT)
    )
    .outerjoin(Allotment, and_(Allotment.plan_id == Plan.id, Allotment.run_id == Run.id))
    .outerjoin(UnfedRun, and_(UnfedRun.plan_id == Plan.id, UnfedRun.run_id == Run.id))
    .outerjoin(_supply, _supply.id == Allotment.supply_id)
    .outerjoin(
        _supply_model, _supply_model.c.id == func.coalesce(_supply.model_id, Allotment.supply_model_id)
    )
    .outerjoin(SupplyModel.__table__, _rating.id == _supply_model.c.id)
    .outerjoin(BatteryModel.__table__, _pack.id == _supply_model.c.id)
    .outerjoin(
        SupplyOutput,
        and_(SupplyOutput.model_id == _supply_model.c.id, SupplyOutput.position == Allotment.output),
    )
    .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
    .outerjoin(
        _decoder_model, _decoder_model.c.id == func.coalesce(_decoder.model_id, Allotment.decoder_model_id)
    )
    .outerjoin(Placing, and_(Placing.plan_id == Plan.id, Placing.unit_id == Allotment.supply_id))
    .outerjoin(_stand, _stand.id == Placing.place_id)
    .outerjoin(_box, _box.id == Placing.enclosure_id)
    .outerjoin(
        _decoder_placing,
        and_(_decoder_placing.plan_id == Plan.id, _decoder_placing.unit_id == Allotment.decoder_id),
    )
    .outerjoin(_decoder_stand, _decoder_stand.id == _decoder_placing.place_id)
    .outerjoin(Outlet, Outlet.id == Placing.outlet_id)
    .outerjoin(
        Patch,
        and_(
            Patch.plan_id == Plan.id,
            Patch.decoder_id == Allotment.decoder_id,
            Patch.port == case((Tape.signal == "pixel", Allotment.first_channel), else_=0),
        ),
    )
    .where(Element.tag_key == bindparam("key"))
    .order_by(Run.number)
)  # fmt: skip

_EMITTERS = select(Emitter.name).where(Emitter.tape_id == bindparam("tape_id")).order_by(Emitter.position)

_LOADS = (
    select(
        Allotment.plan_id, Allotment.supply_id, Allotment.output, Allotment.decoder_id,
        Allotment.first_channel, Allotment.channels, Element.tag.label("element"), Element.name,
        Element.status, Run.number.label("run"), _PITCHES.label("pitches"), Tape.pitch_um, Tape.class_v,
        Plan.from_on, Plan.until_on,
        *FIGURES, _decoder.tag.label("decoder"), Production.tag.label("production"),
        _supply.tag.label("supply"),
    )
    .select_from(Allotment)
    .join(Plan, and_(Plan.id == Allotment.plan_id, Plan.status == PlanStatus.KEPT))
    .join(Production, Production.id == Plan.production_id)
    .join(Run, Run.id == Allotment.run_id)
    .join(Element, Element.id == Run.element_id)
    .outerjoin(Tape, Tape.id == Element.tape_id)
    .outerjoin(BenchTest, is_test_in_force())
    .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
    .outerjoin(_supply, _supply.id == Allotment.supply_id)
    .order_by(Element.tag_key, Run.number)
)  # fmt: skip
_ON_SUPPLIES = _LOADS.where(
    Allotment.plan_id == bindparam("plan_id"), Allotment.supply_id.in_(bindparam("supplies", expanding=True))
)
_ON_UNIT = _LOADS.where(
    or_(Allotment.supply_id == bindparam("unit_id"), Allotment.decoder_id == bindparam("unit_id"))
)
_ON_OUTLET = _LOADS.join(
    Placing, and_(Placing.plan_id == Plan.id, Placing.unit_id == Allotment.supply_id)
).where(Placing.outlet_id == bindparam("outlet_id"))


def load_w(row: Mapping[Any, Any]) -> float:
    """Watts of a run at full; 0 while its tape or length is not decided."""
    basis = load_basis(row)
    if basis is None or not row["pitches"]:
        return 0.0
    return float(basis.w_per_m * (row["pitches"] * row["pitch_um"]) / 1e6)


def basis_in_words(row: Mapping[Any, Any]) -> str | None:
    """What the load of a run rests on; None while its tape is not decided."""
    basis = load_basis(row)
    return None if basis is None else basis.says


def feed_of(connection: Connection, tag: str) -> dict[str, Any]:
    """The readable path of every run of an element, and what else hangs on the same supplies.

    An element without a feed has runs whose `supply` is None, with the reason where one is known. What a
    supply in a box may carry is left blank: that follows from its whole show (`reports.loads.weigh_boxed`).
    """
    rows = connection.execute(_FEED, {"key": tag_key(tag)}).mappings().all()
    if not rows:
        raise NotFound(
            f"no element has the tag {tag!r}", "Look at the tag on the element, or search its name."
        )
    first = rows[0]
    wired = first["wired"].split() if first["wired"] else _emitters(connection, first["tape_id"])
    supplies = sorted({row["supply_id"] for row in rows if row["supply_id"] is not None})
    beside: Rows = (
        connection.execute(_ON_SUPPLIES, {"plan_id": first["plan_id"], "supplies": supplies}).mappings().all()
        if supplies
        else ()
    )
    runs = [_run(row, wired) for row in rows]
    sources = [
        _source(row, beside) for row in {row["supply_id"]: row for row in rows}.values() if row["supply_id"]
    ]
    return {
        "element": first["element"],
        "name": first["name"],
        "production": first["production"],
        "status": first["status"],
        "scenic_unit": first["scenic_unit"],
        "motion": first["motion"],
        "place": first["place"],
        "place_name": first["place_name"],
        "plan": first["plan"],
        "load_w": round(sum(load_w(row) for row in rows), 6),
        "load_basis": basis_in_words(first),
        "etag": feed_etag(rows),
        "runs": runs,
        "sources": sources,
        "suspects": _suspects(first["element"], runs, sources, beside),
    }


def feed_etag(rows: Rows) -> str:
    """Changes with every change of the element, of the bench test that its loads rest on, of its kept plan or
    any of its allotments."""
    moved = "-".join(f"{row['allotment_id'] or 0}.{row['allotment_version'] or 0}" for row in rows)
    test = f"-t{rows[0]['test_id']}.{rows[0]['test_version']}" if rows[0]["test_id"] else ""
    return f"{rows[0]['version']}-{rows[0]['plan_id'] or 0}-{moved}{test}"


def _emitters(connection: Connection, tape_id: int | None) -> list[str]:
    return list(connection.execute(_EMITTERS, {"tape_id": tape_id}).scalars()) if tape_id else []


def _run(row: Mapping[Any, Any], wired: list[str]) -> dict[str, Any]:
    channels = row["channels"] or 0
    first = row["first_channel"]
    names = ["all"] if row["signal"] == "pixel" else wired
    watts = load_w(row)
    return {
        "run": row["run"],
        "tape": row["tape"],
        "feed_style": row["feed_style"],
        "length_m": (row["pitches"] or 0) * (row["pitch_um"] or 0) / 1e6,
        "load_w": round(watts, 6),
        "load_a": round(watts / row["class_v"], 6) if row["class_v"] else None,
        "load_basis": basis_in_words(row),
        "lead_m": None if row["lead_um"] is None else row["lead_um"] / 1e6,
        "lead_gauge": row["lead_gauge"],
        "leads": leads_of(FeedStyle(row["feed_style"])),
        "supply": row["supply"] or (f"any {row['supply_model']}" if row["supply_model"] else None),
        "supply_model": row["supply_model"],
        "output": row["output"],
        "output_label": row["output_label"] or None,
        "decoder": row["decoder"] or (f"any {row['decoder_model']}" if row["decoder_model"] else None),
        "decoder_model": row["decoder_model"],
        "decoder_state": row["decoder_state"],
        "decoder_note": row["decoder_note"] or None,
        "decoder_place": row["decoder_place"],
        "decoder_place_name": row["decoder_place_name"],
        "first_channel": first,
        "channels": channels,
        "override_reason": row["override_reason"],
        "is_locked": bool(row["is_locked"]),
        "universe": row["universe"],
        "start": row["start"],
        "mode": row["mode"],
        "slots": [_slot(row, name, first + n) for n, name in enumerate(names[:channels])] if first else [],
        "unfed_because": row["because"],
        "unfed_mend": row["mend"],
    }  # fmt: skip


def _slot(row: Mapping[Any, Any], emitter: str, channel: int) -> dict[str, Any]:
    """Where one emitter listens. A pixel port starts at its own address; level channels count on."""
    slot = row["start"]
    if slot is not None and row["signal"] != "pixel":
        slot = channel_slot(slot, channel, row["mode"])
    return {"emitter": emitter, "channel": channel, "universe": row["universe"], "slot": slot}


def _source(row: Mapping[Any, Any], beside: Rows) -> dict[str, Any]:
    on_it = [b for b in beside if b["supply_id"] == row["supply_id"]]
    total_w = sum(load_w(b) for b in on_it)
    # In a box its neighbours warm it too.
    limit_w = None if row["enclosure"] else source_limit_w(row)
    return {
        "supply": row["supply"],
        "model": row["supply_model"],
        "kind": row["supply_kind"],
        "state": row["supply_state"],
        "note": row["supply_note"] or None,
        "place": row["supply_place"],
        "place_name": row["supply_place_name"],
        "enclosure": row["enclosure"],
        "outlet": row["outlet"],
        "outlet_kind": row["outlet_kind"],
        "outlet_position": row["outlet_position"] or None,
        "load_w": round(total_w, 6),
        "load_basis": together((b["element"], basis_in_words(b) or "") for b in on_it),
        "limit_w": None if limit_w is None else round(limit_w, 6),
        "load_pct": None if not limit_w else round(100.0 * total_w / limit_w, 1),
        "feeds": list(dict.fromkeys(b["element"] for b in on_it)),
    }


def source_limit_w(row: Mapping[Any, Any]) -> float | None:
    """Watts the source may give for hours in open air; None when a figure it needs is not known."""
    if row["supply_kind"] == GearKind.BATTERY:
        return float(row["max_a"] * row["pack_v"]) if row["max_a"] is not None else None
    if None in (row["rated_w"], row["full_to_degc"], row["derate_per_k"], row["max_degc"]):
        return None
    try:
        air_degc = _house_figure("open_air_degc", row["house_degc"])
        share = row["load_factor"] or _house_figure("load_factor", row["house_load_factor"])
    except BadQuantity:
        return None  # what feeds a dark thing is still told; that the rule is wrong, every report says
    air = ambient_factor(air_degc, row["full_to_degc"], row["derate_per_k"], row["max_degc"])
    return float(row["rated_w"] * air * share)


def _house_figure(name: str, stored: str | None) -> float:
    return float(getattr(DEFAULT, name)) if stored is None else stored_figure(name, stored)


def _suspects(
    element: str, runs: list[dict[str, Any]], sources: list[dict[str, Any]], beside: Rows
) -> list[str]:
    """What to go to first: what they share if all are dark, the last metres if only one is."""
    said = []
    for source in sources:
        tag = source["supply"]
        others = [other for other in source["feeds"] if other != element]
        decoders = sorted({r["decoder"] for r in runs if r["supply"] == tag and r["decoder"]})
        mates = {b["element"] for b in beside if b["supply"] == tag and b["decoder"] in decoders} - {element}
        same = mates == set(others)
        shared = ", ".join(filter(None, (tag, source["outlet"], *(decoders if same else ()))))
        if others:
            said.append(f"Dark together with {', '.join(others)}: suspect {shared}.")
        if mates and not same:
            of_them = ", ".join(other for other in others if other in mates)
            said.append(f"Dark together with {of_them} only: suspect {', '.join(decoders)}.")
        last = "lead or joint" if not decoders else f"lead, joint or channel {_channels(runs, tag)}"
        said.append(f"{'Only ' if others else ''}{element} dark: suspect its {last}.")
    return said


def _channels(runs: list[dict[str, Any]], supply: str) -> str:
    found = sorted({s["channel"] for r in runs if r["supply"] == supply for s in r["slots"]})
    if not found:
        return ""
    return str(found[0]) if len(found) == 1 else f"{found[0]} to {found[-1]}"


def _fed(row: Mapping[Any, Any]) -> dict[str, Any]:
    first, channels = row["first_channel"], row["channels"]
    watts = load_w(row)
    return {
        "production": row["production"],
        "from_on": row["from_on"],
        "to_on": row["until_on"] - timedelta(days=1),
        "element": row["element"],
        "name": row["name"],
        "run": row["run"],
        "status": row["status"],
        "supply": row["supply"],
        "output": row["output"],
        "decoder": row["decoder"],
        "first_channel": first,
        "last_channel": first + channels - 1 if first and channels else None,
        "load_w": round(watts, 6),
        "load_a": round(watts / row["class_v"], 6) if row["class_v"] else None,
        "load_basis": basis_in_words(row),
    }


def _find_unit(connection: Connection, tag: str, kinds: tuple[GearKind, ...]) -> Any:
    row = connection.execute(
        select(Unit.id, Unit.tag, Unit.kind).where(Unit.tag_key == tag_key(tag), Unit.kind.in_(kinds))
    ).one_or_none()
    if row is None:
        raise NotFound(f"no {' or '.join(kinds)} has the tag {tag!r}", "Look at the tag on the thing.")
    return row


def fed_by_unit(
    connection: Connection, tag: str, kinds: tuple[GearKind, ...], output: int | None = None
) -> list[dict[str, Any]]:
    """Every run that a supply, battery or decoder feeds in a kept plan; `output` narrows to one output."""
    unit = _find_unit(connection, tag, kinds)
    rows = connection.execute(_ON_UNIT, {"unit_id": unit.id}).mappings().all()
    return [_fed(row) for row in rows if output is None or row["output"] == output]


def fed_by_outlet(connection: Connection, tag: str) -> list[dict[str, Any]]:
    """Every run behind the supplies plugged into an outlet."""
    outlet_id = connection.execute(select(Outlet.id).where(Outlet.tag_key == tag_key(tag))).scalar()
    if outlet_id is None:
        raise NotFound(f"no outlet has the tag {tag!r}", "List the outlets to see their tags.")
    return [_fed(row) for row in connection.execute(_ON_OUTLET, {"outlet_id": outlet_id}).mappings()]


def dark_if_pulled(connection: Connection, fed: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Elements that lose light when what feeds `fed` is pulled; `whole` when nothing of them stays lit."""
    lost: dict[str, list[dict[str, Any]]] = {}
    for row in fed:
        lost.setdefault(row["element"], []).append(row)
    if not lost:
        return []
    counted = connection.execute(
        select(Element.tag, func.count(Run.id))
        .join(Run, Run.element_id == Element.id)
        .where(Element.tag.in_(lost))
        .group_by(Element.tag)
    )
    counts = {row[0]: row[1] for row in counted}
    return [
        {
            "production": rows[0]["production"],
            "from_on": rows[0]["from_on"],
            "to_on": rows[0]["to_on"],
            "element": tag,
            "name": rows[0]["name"],
            "runs": sorted(row["run"] for row in rows),
            "whole": len({row["run"] for row in rows}) == counts[tag],
            "load_w": round(sum(row["load_w"] for row in rows), 6),
            "load_basis": rows[0]["load_basis"],
        }
        for tag, rows in lost.items()
    ]
