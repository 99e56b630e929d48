"""A finding: one limit compared with one figure; and the rule that it is a finding of."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from service.limits.mends.acts import Act

SLACK = 1e-6  # equality with a limit is ok; binary floats must not turn 100.0 % red


class Verdict(StrEnum):
    OK = "ok"
    WATCH = "watch"
    OVER = "over"
    UNKNOWN = "unknown"  # cannot check: a figure is missing; never reads as ok


class Harm(IntEnum):
    """What happens if it is ignored, worst first."""

    FIRE = 1  # fire, heat, or smoke from too high a voltage
    VOLTAGE = 2  # wrong voltage, too low to work
    DARK = 3  # goes dark or fails on stage
    LOOKS = 4  # looks wrong
    PAPER = 5  # paperwork


@dataclass(frozen=True, slots=True)
class Mend:
    """The best way to put it right, and what the figure becomes when it is done.

    `value_after` and `limit_after` are in the finding's unit; None where the mend is not a number. `acts`:
    what is done, where it can be put on record as it stands; none where somebody has to choose or to build.
    """

    text: str
    value_after: float | None = None
    limit_after: float | None = None
    acts: tuple[Act, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One comparison. `value` and `limit` are in `unit`; both None when the verdict is unknown.

    `subject` says what is compared ("PS-12 output 2"); `tag` is the label to go to ("PS-12").
    `is_history`: the production is over, so nothing burns tonight, but the record stands.
    """

    code: str
    harm: Harm
    verdict: Verdict
    subject_kind: str
    subject: str
    message: str
    source: str
    production: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    caution: str = ""
    mend: Mend | None = None
    elements: tuple[str, ...] = ()
    tag: str = ""
    is_history: bool = False
    load_basis: str = ""  # what the loads in it rest on; blank where there are none
    at_least: bool = False  # the limit is the least the figure may be, not the most

    def said_of(self, production: str, is_history: bool, load_basis: str) -> "Finding":
        """The same of a show. Written out: a show of 1,000 elements has 20,000 findings, and `replace` asks
        each of them for its fields."""
        return Finding(
            self.code, self.harm, self.verdict, self.subject_kind, self.subject, self.message, self.source,
            production, self.value, self.limit, self.unit, self.caution, self.mend, self.elements, self.tag,
            is_history, load_basis, self.at_least,
        )  # fmt: skip

    @property
    def margin(self) -> float | None:
        """Room left before the limit, in `unit`; negative when over (or, of a least figure, under)."""
        if self.value is None or self.limit is None:
            return None
        return self.value - self.limit if self.at_least else self.limit - self.value

    @property
    def share_pct(self) -> float | None:
        """The value as a percentage of the limit."""
        if self.value is None or not self.limit:
            return None
        return 100.0 * self.value / self.limit


_ORDER = {Verdict.OVER: 0, Verdict.WATCH: 1, Verdict.UNKNOWN: 2, Verdict.OK: 3}


def by_harm(finding: Finding) -> tuple[int, int, float, str, str, str]:
    """Sort key: over before watch before unknown before ok; then harm; then how far over."""
    share = finding.share_pct
    if share is not None and finding.at_least:
        share = 1e4 / share if share else None
    return (
        _ORDER[finding.verdict],
        int(finding.harm),
        -(share if share is not None else 0.0),
        finding.production,
        finding.subject,
        finding.code,
    )


def compared(value: float, limit: float) -> Verdict:
    """Over only when the value passes the limit by more than one part in a million."""
    return Verdict.OVER if value > limit * (1.0 + SLACK) else Verdict.OK


def reaches(value: float, least: float) -> bool:
    """Whether a figure is at least so much, but for one part in a million."""
    return value >= least * (1.0 - SLACK)


@dataclass(frozen=True, slots=True)
class About:
    """What a finding is about: the thing compared, its label, and the elements that depend on it."""

    subject: str
    tag: str
    elements: tuple[str, ...] = ()


def about(subject: str, tag: str = "", elements: Iterable[str] = ()) -> About:
    """The same, with each element once and in order of its tag."""
    return About(subject, tag or subject, tuple(sorted(set(elements))))


@dataclass(frozen=True, slots=True)
class Figure:
    value: float
    limit: float
    unit: str
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    """What one limit says of itself. `number`: the rule of the house that it belongs to."""

    code: str
    title: str
    number: int
    harm: Harm
    subject_kind: str
    source: str
    caution: str = ""

    def finding(
        self,
        verdict: Verdict,
        what: About,
        message: str,
        figure: Figure | None = None,
        mend: Mend | None = None,
        harm: Harm | None = None,
    ) -> Finding:
        """A finding of this rule; `harm` where this case is worse than the rule's usual one."""
        return Finding(
            code=self.code,
            harm=self.harm if harm is None else harm,
            verdict=verdict,
            subject_kind=self.subject_kind,
            subject=what.subject,
            message=message,
            source=self.source,
            value=None if figure is None else figure.value,
            limit=None if figure is None else figure.limit,
            unit="" if figure is None else figure.unit,
            caution="" if verdict is Verdict.OK else self.caution,
            mend=mend,
            elements=what.elements,
            tag=what.tag,
            at_least=figure is not None and figure.at_least,
        )

    def ok(self, what: About, message: str, figure: Figure | None = None) -> Finding:
        return self.finding(Verdict.OK, what, message, figure)

    def unknown(self, what: About, missing: str, enter: str) -> Finding:
        """A blank never reads as ok: it says what is missing and what to enter."""
        return self.finding(
            Verdict.UNKNOWN, what, f"cannot check {what.subject}: {missing} is not known; enter {enter}"
        )


def share_text(value: float, limit: float) -> str:
    """The value as a percentage of the limit; never "100.0 %" for something that is over.

    >>> share_text(311.04, 256.0), share_text(256.0, 256.0), share_text(100.01, 100.0)
    ('121.5 %', '100.0 %', '100.010 %')
    """
    if not limit:
        return "no room at all"
    share = 100.0 * value / limit
    text = f"{share:.1f} %"
    return f"{share:.3f} %" if text == "100.0 %" and compared(value, limit) is Verdict.OVER else text
