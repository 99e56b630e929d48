"""What loads rest on, in words: the maker's figures, or what was measured, when and by whom."""

from collections.abc import Iterable, Mapping

from service.limits.facts import ShowFacts
from service.limits.findings import Finding

NOMINAL = "nominal"
OF_LOADS = frozenset({"W", "A", "V"})  # units of figures that a load goes into


def together(loads: Iterable[tuple[str, str]]) -> str:
    """What the sum of the loads of several elements rests on, from (element, basis).

    >>> together([("SQ-1", "nominal"), ("SQ-2", "measured 19.8 W/m, bench test 2026-11-02")])
    'SQ-2 measured 19.8 W/m, bench test 2026-11-02; else nominal'
    >>> together([("SQ-1", "nominal")]), together([])
    ('nominal', '')
    """
    by_element = dict(loads)
    measured = [f"{tag} {basis}" for tag, basis in by_element.items() if basis not in ("", NOMINAL)]
    if not measured:
        return NOMINAL if by_element else ""
    return "; ".join(measured + (["else nominal"] if len(measured) < len(by_element) else []))


def bases_of(show: ShowFacts) -> dict[str, str]:
    """What the load of each element with a known tape rests on, by its tag."""
    return {e.tag: e.tape.load_basis for e in show.elements if e.tape is not None}


def basis_of(finding: Finding, bases: Mapping[str, str]) -> str:
    """What the figures of a finding rest on; blank where no load goes into them. `bases`: of the show."""
    if finding.unit not in OF_LOADS:
        return ""
    return together((tag, bases[tag]) for tag in finding.elements if tag in bases)
