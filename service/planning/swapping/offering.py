"""What could stand in, with what is different on each: what somebody looks at before choosing."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from service.limits.findings import Verdict
from service.planning.snapshot.house import DecoderKind, House, SourceKind, UnitRow
from service.planning.swapping.acting.doing import swap_etag
from service.planning.swapping.asking import answered
from service.planning.swapping.reading import Question, read_question
from service.planning.swapping.schemas import CandidateOut, SwapsOut
from service.planning.swapping.setting import where_is
from service.planning.swapping.standing import Share

Value = float | str | None


@dataclass(frozen=True, slots=True)
class Differs:
    """One thing that two units have not in common. `unit`: of figures; None: nobody wrote it down."""

    what: str
    was: Value
    now: Value
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """A unit that could stand in, where it lies, and in what it differs."""

    candidate: CandidateOut
    lies: str
    differs: tuple[Differs, ...]

    @property
    def is_whole(self) -> bool:
        """It is to be had to the end, and puts or leaves nothing over a limit."""
        return self.candidate.share == Share.FREE and self.candidate.verdict != Verdict.OVER

    @property
    def is_lent(self) -> bool:
        """A show that is dark has it: it must come back first."""
        return self.candidate.share == Share.LENT

    @property
    def is_alike(self) -> bool:
        return self.candidate.is_same_model and not self.candidate.worse


@dataclass(frozen=True, slots=True)
class Offered:
    """The answer, and what it was true of: `etag` changes with the unit and with all that hangs on it.
    `lies`: where the unit itself is."""

    asked: SwapsOut
    title: str
    lies: str
    offers: tuple[Offer, ...]
    etag: str

    def of(self, tag: str) -> Offer | None:
        return next((one for one in self.offers if one.candidate.unit.upper() == tag.strip().upper()), None)


def offered(session: Session, tag: str, code: str | None, today: date) -> Offered:
    """What could stand in for the unit in the kept plan of that show, the best first. Raises NotFound,
    BadRequest, Refused."""
    question = read_question(session, tag, code, today)
    found = answered(question)
    offers = tuple(_offer(question, one) for one in found.candidates)
    lies = lies_at(question, question.old)
    return Offered(found, question.production.title, lies, offers, swap_etag(question))


def _offer(question: Question, candidate: CandidateOut) -> Offer:
    unit = question.house.unit_by_tag(candidate.unit)
    differs = () if unit is None else tuple(differences(question, unit))
    return Offer(candidate, "" if unit is None else lies_at(question, unit), differs)


def lies_at(question: Question, unit: UnitRow) -> str:
    """Where the unit is, by name and tag of the place; what else was written down, as it is."""
    where = where_is(question, unit)
    place = next((p for p in question.house.places.values() if p.tag == where), None)
    return where if place is None or place.name in ("", where) else f"{place.name} ({where})"


def differences(question: Question, unit: UnitRow) -> list[Differs]:
    """What is not the same on the unit as on the one it would stand in for."""
    old = question.old
    told: Sequence[Differs] = ()
    if old.model_id != unit.model_id:
        house, was, now = question.house, old.model_id or 0, unit.model_id or 0
        if old.kind == "decoder":
            told = [*_decoders(house.decoders[was], house.decoders[now]), *_plugs(question, was, now)]
        else:
            told = list(_sources(house, house.sources[was], house.sources[now]))
    own = Differs("charge", old.measured_ah, unit.measured_ah, "Ah")
    return [one for one in (*told, own) if one.was != one.now]


def _sources(house: House, was: SourceKind, now: SourceKind) -> Iterator[Differs]:
    yield Differs("model", was.tag, now.tag)
    yield Differs("volts", was.output_v, now.output_v, "V")
    yield Differs("watts", was.rated_w, now.rated_w, "W")
    yield Differs("outputs", float(len(was.caps_a)), float(len(now.caps_a)))
    yield Differs("output", _most(was.caps_a), _most(now.caps_a), "A")
    yield Differs("plug", _connector(house, was.connector_id), _connector(house, now.connector_id))
    if was.pack is not None and now.pack is not None:
        yield Differs("capacity", was.pack.capacity_ah, now.pack.capacity_ah, "Ah")
    else:
        yield Differs("warm", was.full_to_degc, now.full_to_degc, "degC")


def _decoders(was: DecoderKind, now: DecoderKind) -> Iterator[Differs]:
    yield Differs("model", was.tag, now.tag)
    yield Differs("channels", float(was.channels), float(now.channels))
    yield Differs("channel", was.channel_a, now.channel_a, "A")
    yield Differs("feeds", float(len(was.banks)), float(len(now.banks)))
    yield Differs("total", _most(b.total_a for b in was.banks), _most(b.total_a for b in now.banks), "A")
    yield Differs("slots", was.footprint_8bit, now.footprint_8bit)
    yield Differs("protocol", _speaks(was), _speaks(now))
    yield Differs("pwm", was.pwm_hz, now.pwm_hz, "Hz")
    yield Differs("curve", was.curve or None, now.curve or None)
    yield Differs("least", was.min_v, now.min_v, "V")
    yield Differs("highest", was.max_v, now.max_v, "V")


def _plugs(question: Question, was: int, now: int) -> Iterator[Differs]:
    for what, of_was, of_now in zip(
        ("control", "plug"), question.plugs[was], question.plugs[now], strict=True
    ):
        yield Differs(what, _connector(question.house, of_was), _connector(question.house, of_now))


def _speaks(kind: DecoderKind) -> str:
    return f"{kind.signal}, {kind.link}"


def _connector(house: House, number: int | None) -> str | None:
    return house.connectors[number].tag if number in house.connectors else None


def _most(amps: Iterable[float | None]) -> float | None:
    return max((a for a in amps if a is not None), default=None)
