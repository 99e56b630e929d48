"""What a crew has to do by hand for a swap: plugs, addresses, what is set on the unit, labels."""

from collections.abc import Iterable

from service.planning.snapshot.house import UnitRow
from service.planning.swapping.carrying import Exchange, Moved
from service.planning.swapping.reading import Question
from service.planning.swapping.schemas import LabelChangeOut, RunMoveOut


def where_is(question: Question, unit: UnitRow) -> str:
    """Where it was seen last, or was written down to be, else its bin."""
    places = question.house.places
    seen, home = places.get(question.seen.get(unit.id, 0)), places.get(unit.home_id or 0)
    return seen.tag if seen else unit.where_note or (home.tag if home else "")


def moves_of(question: Question, new: UnitRow, exchange: Exchange) -> list[RunMoveOut]:
    """Runs whose output or channel has another number on the new unit."""
    return [
        RunMoveOut(
            run=m.run,
            before=f"{question.old.tag} {numbered(question.old.kind, m.from_number, m.count)}",
            after=f"{new.tag} {numbered(question.old.kind, m.to_number, m.count)}",
        )
        for m in exchange.moved
        if m.from_number != m.to_number
    ]


def numbered(kind: str, first: int, count: int) -> str:
    """The output of a supply or a battery, or the channels of a decoder, in words.

    >>> numbered("supply", 2, 0), numbered("decoder", 3, 2)
    ('output 2', 'channel 3 to 4')
    """
    if kind != "decoder":
        return f"output {first}"
    last = first + max(count, 1) - 1
    return f"channel {first}" if last == first else f"channel {first} to {last}"


def sets_of(question: Question, new: UnitRow, exchange: Exchange) -> list[str]:
    """What to set, and what is different on it: nothing of this is in the plan's own figures."""
    said = [*_plugs(question, new), *_addresses(new, exchange)]
    if question.old.model_id == new.model_id:
        return said
    if question.old.kind == "decoder":
        said += _of_decoders(question, new)
    else:
        said += _of_sources(question, new)
    return said


def _plugs(question: Question, new: UnitRow) -> list[str]:
    placed = question.rows.placings.get(question.old.id)
    if placed is None:
        return []
    said = []
    if placed.outlet_id in question.house.outlets:
        said.append(f"plug {new.tag} into {question.house.outlets[placed.outlet_id].tag}")
    if placed.enclosure_id:
        said.append(f"put it into {question.house.named(placed.enclosure_id).tag}")
    if placed.line_id in question.rows.lines:
        said.append(f"hang it on control line {question.rows.lines[placed.line_id].name}")
    return said


def _addresses(new: UnitRow, exchange: Exchange) -> list[str]:
    said = []
    for patch in exchange.rows.patches:
        if patch.decoder_id == new.id and patch.universe and patch.start:
            port = f"port {patch.port}: " if patch.port else ""
            slots = f", {patch.footprint} slots" if patch.footprint else ""
            mirror = f", mirrors {patch.mirror}" if patch.mirror else ""
            said.append(f"{port}universe {patch.universe}, slot {patch.start}{slots}, {patch.mode}{mirror}")
    return said


def _of_decoders(question: Question, new: UnitRow) -> Iterable[str]:
    house = question.house
    was, now = house.decoders[question.old.model_id or 0], house.decoders[new.model_id or 0]
    if was.curve and was.curve != now.curve:
        yield f"curve {was.curve}; {now.tag} dims {now.curve or 'by a curve that nobody wrote down'}"
    if was.pwm_hz and was.pwm_hz != now.pwm_hz:
        its = f"{now.pwm_hz:g} Hz" if now.pwm_hz else "at a rate that nobody wrote down"
        yield f"PWM {was.pwm_hz:g} Hz; {now.tag} has {its}"
    for what, of_was, of_now in zip(
        ("control", "output"), question.plugs[was.id], question.plugs[now.id], strict=True
    ):
        yield from _plug(question, what, of_was, of_now)


def _of_sources(question: Question, new: UnitRow) -> Iterable[str]:
    house = question.house
    was, now = house.sources[question.old.model_id or 0], house.sources[new.model_id or 0]
    if was.output_v != now.output_v:
        yield f"it gives {now.output_v:g} V; {was.tag} gives {was.output_v:g} V"
    yield from _plug(question, "output", was.connector_id, now.connector_id)


def _plug(question: Question, what: str, was: int | None, now: int | None) -> Iterable[str]:
    names = question.house.connectors
    if was in names and was != now:
        its = names[now].tag if now in names else "not known"
        yield f"its {what} connector is {its}, not {names[was].tag}"


def labels_of(question: Question, new: UnitRow, moved: Iterable[Moved]) -> list[LabelChangeOut]:
    """The label of each run that says where its lead goes, and that of the address."""
    old = question.old
    return [
        LabelChangeOut(
            thing=m.run,
            before=f"{old.tag} {numbered(question.old.kind, m.from_number, m.count)}",
            after=f"{new.tag} {numbered(question.old.kind, m.to_number, m.count)}",
        )
        for m in moved
    ]
