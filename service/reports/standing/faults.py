"""Findings told to people: what is wrong, one move that mends it, and what the move leaves."""

from collections.abc import Iterable
from dataclasses import replace

from service.limits.findings import Finding
from service.limits.mends.acts import Act, Shift
from service.reports.over_limit import HARM_WORDS
from service.reports.standing.parts import Fault

OF_LOADS = frozenset({"W", "A"})
FEED = "no-feed"


def told(finding: Finding, names: dict[str, str]) -> Fault:
    """One finding, with its words parted into what stands first and what explains it."""
    head, *more = clauses(finding.message)
    rest = "; ".join(more)
    act, effect, instead = _parted(finding.mend.text if finding.mend else "")
    acts = finding.mend.acts if finding.mend else ()
    if acts:
        act = _named(acts, act, names)
    over = None if finding.margin is None or finding.margin >= 0 or finding.at_least else -finding.margin
    is_load = finding.unit in OF_LOADS and over is not None and " carries " in head
    if is_load:
        rest = "; ".join(filter(None, (head, rest)))
    return Fault(
        code=finding.code,
        subject=finding.subject,
        tag=finding.tag,
        head=_begun(head),
        rest=_begun(rest),
        excess=over if is_load else None,
        unit=finding.unit,
        act=act,
        effect=effect,
        instead=instead,
        acts=acts,
        harm=HARM_WORDS[int(finding.harm)],
        source=finding.source,
        caution=finding.caution,
        elements=finding.elements,
    )


def _begun(text: str) -> str:
    """With a capital, as a sentence of its own."""
    return text[:1].upper() + text[1:]


def _parted(text: str) -> tuple[str, str, str]:
    """The move, what it leaves, and what would do instead.

    >>> _parted("move A to PS-02: PS-02 134 W of 256 W, PS-01 134 W; or to PS-03 (134 W of 256 W)")
    ('move A to PS-02', 'PS-02 134 W of 256 W, PS-01 134 W', 'or to PS-03 (134 W of 256 W)')
    >>> _parted("move A to PS-02: PS-02 1 W of 2 W; move B to PS-03: PS-03 1 W of 2 W")
    ('move A to PS-02; move B to PS-03', 'PS-02 1 W of 2 W; PS-03 1 W of 2 W', '')
    >>> _parted("get one more D4")
    ('get one more D4', '', '')
    """
    acts: list[str] = []
    effects: list[str] = []
    instead: list[str] = []
    for part in clauses(text):
        if part.startswith("or ") or instead:
            instead.append(part)
            continue
        act, colon, effect = part.partition(": ")
        if colon or not effects:
            acts.append(act)
        if colon or len(effects):
            effects.append(effect if colon else part)
    return "; ".join(acts), "; ".join(dict.fromkeys(effects)), "; ".join(instead)


def clauses(text: str) -> list[str]:
    """What semicolons part, but not those inside brackets.

    >>> clauses("cut from 2 lots (N-26A: A; N-26C: B); match them")
    ['cut from 2 lots (N-26A: A; N-26C: B)', 'match them']
    """
    parts, depth, start = [], 0, 0
    for at, letter in enumerate(text):
        depth += (letter == "(") - (letter == ")")
        if not depth and text.startswith("; ", at):
            parts.append(text[start:at])
            start = at + 2
    return [*parts, text[start:]]


def outcome_of(message: str) -> str:
    """What comes of a finding, without the figures that lead there.

    >>> outcome_of("BT-1 gives 32 of 30 Wh: it dies at minute 156"), outcome_of("PS-2 is overdue; hurts TL")
    ('it dies at minute 156', 'PS-2 is overdue')
    """
    figures, _, outcome = message.rpartition(": it ")
    return f"it {outcome}" if figures else message.partition("; ")[0]


def _named(acts: tuple[Act, ...], text: str, names: dict[str, str]) -> str:
    """The move with people's names for elements in place of their tags, where it is short enough to say."""
    tags = {run.rpartition("/")[0] for act in acts if isinstance(act, Shift) for run in act.runs}
    if len(tags) != 1:
        return text
    tag = tags.pop()
    return text.replace(tag, names.get(tag, tag), 1) if text.startswith(f"move {tag}") else text


def gathered(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Those that one move mends told together, under the worst of them; so are those of one limit that
    are mended in the same way, each by itself."""
    kept: list[Fault] = []
    at: dict[object, int] = {}
    for fault in faults:
        key: object = fault.acts or (fault.code, fault.act)
        if (fault.acts or fault.act) and key in at:
            kept[at[key]] = _under(kept[at[key]], fault)
            continue
        at[key] = len(kept)
        kept.append(fault)
    return tuple(kept)


def _under(first: Fault, other: Fault) -> Fault:
    """Both as one; the watts of a whole supply say more than the amps of its output."""
    if first.unit == "A" and other.unit == "W" and other.excess is not None:
        return replace(other, also=(*first.also, replace(first, also=())))
    return replace(first, also=(*first.also, other))
