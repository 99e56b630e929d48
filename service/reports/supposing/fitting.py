"""An element that is supposed: its cut, its load, and every source of its voltage with it on."""

from service.limits.facts import DecoderFacts, ElementFacts, ShowFacts
from service.limits.findings import Verdict
from service.limits.mends.offers import Offer, offers
from service.limits.policy import Policy
from service.reports.supposing.schemas import AddedOut, FitOut, PieceOut


def fitted(show: ShowFacts, element: ElementFacts, policy: Policy) -> AddedOut:
    """Where it would fit, wherever the sources stand: what moves with its scenic unit wants a battery."""
    tape = element.tape
    load_w = element.load_w or 0.0
    length_m = sum(run.length_m for run in element.runs)
    class_v = tape.class_v if tape else 0.0
    kind = "battery" if element.is_moving else "supply"
    found = offers(show, load_w, class_v, kind, policy) if tape else []
    channels = 0 if not element.dimmed else 1 if tape and tape.signal == "pixel" else len(element.wired)
    return AddedOut(
        element=element.tag,
        pieces=[
            PieceOut(
                run=run.number,
                drawn_mm=_mm(piece.drawn_m),
                cut_mm=_mm(piece.cut_m) if tape else None,
                shorter_by_mm=_mm(piece.drawn_m - piece.cut_m) if tape else None,
            )
            for run in element.runs
            for piece in run.pieces
        ],
        load_w=round(load_w, 6),
        common_a=round(load_w / class_v, 6) if tape else 0.0,
        emitters_a={
            emitter.name: round(emitter.w_per_m * length_m / class_v, 6)
            for emitter in (tape.emitters if tape else ())
        },
        channels=channels,
        fits=sorted((_fit(show, offer, load_w) for offer in found), key=_order),
        decoders={
            decoder.tag: free
            for decoder in show.decoders
            if channels and (free := _free(decoder, channels)) >= channels and not decoder.is_placeholder
        },
    )


def _mm(length_m: float) -> float:
    return round(length_m * 1000, 3)


def _free(decoder: DecoderFacts, channels: int) -> int:
    """Free channels of the bank with the most in a row; too few of them count for nothing."""
    most = 0
    for bank in decoder.banks:
        row = 0
        for channel in bank.channels:
            row = 0 if channel.loads else row + 1
            most = max(most, row)
    return most if most >= channels else 0


def _fit(show: ShowFacts, offer: Offer, load_w: float) -> FitOut:
    enclosure = next((s.enclosure for s in show.supplies if s.tag == offer.supply), "")
    limit = offer.limit_w
    return FitOut(
        source=offer.supply,
        output=offer.output,
        is_free=offer.is_free,
        w_before=round(offer.w_after - load_w, 6),
        w_after=round(offer.w_after, 6),
        limit_w=None if limit is None else round(limit, 6),
        a_after=round(offer.a_after, 6),
        limit_a=None if offer.limit_a is None else round(offer.limit_a, 6),
        pct=None if not limit else round(100 * offer.w_after / limit, 1),
        verdict=offer.verdict.value,
        breaks=_breaks(offer, enclosure),
    )


def _breaks(offer: Offer, enclosure: str) -> str:
    """What would be over, with its figures, or what cannot be checked."""
    if offer.verdict is Verdict.OK:
        return ""
    said = []
    if offer.limit_w is None and enclosure:
        said.append(f"cannot check: heat in {enclosure}")
    elif offer.limit_w is None:
        said.append("cannot check: its limit in W is not known")
    elif offer.w_after > offer.limit_w:
        share = 100 * offer.w_after / offer.limit_w
        there = f" in {enclosure}" if enclosure else ""
        said.append(f"{offer.w_after:.2f} W of {offer.limit_w:.2f} W{there} ({share:.1f} %)")
    if offer.limit_a is None:
        said.append("cannot check: its limit in A is not known")
    elif offer.a_after > offer.limit_a:
        said.append(f"{offer.a_after:.2f} A of {offer.limit_a:.2f} A")
    return f"{offer.supply}: {', '.join(said)}"


def _order(fit: FitOut) -> tuple[int, bool, float, str]:
    """What holds first, gear of the show before free gear, the fullest first."""
    rank = {Verdict.OK.value: 0, Verdict.UNKNOWN.value: 1}.get(fit.verdict, 2)
    return (rank, fit.is_free, -(fit.pct or 0.0), fit.source)
