"""Why a lead would be too long, or none would do; and the least change that would."""

from service.allocation.change.room import Row
from service.allocation.problem import Reach, Run
from service.allocation.why.kinds import Reason
from service.allocation.why.words import any_of, said


def out_of_reach(row: Row) -> Reason:
    """The reason of a row that may be fed from none of its places."""
    run, reach = _narrowest(row)
    if reach.longest_um < 0:
        return Reason(
            reach.limit,
            reach.value,
            reach.bound,
            reach.unit,
            _named(row, run, reach.because),
            _mend(reach, 0),
        )
    site, lead_um = min(_leads(row, reach), key=lambda pair: (pair[1], pair[0]))
    if reach.holds(site):
        because = f"no one place is near enough to all of {any_of(run.tag for run in row.runs)}"
        return Reason("site", None, None, "", because, "put them on two rows of channels")
    because = f"{_lead(reach, site, lead_um)}; {reach.because}"
    return Reason(
        reach.limit, lead_um / 1e6, reach.longest_um / 1e6, reach.unit, _named(row, run, because),
        _mend(reach, lead_um),
    )  # fmt: skip


def too_far(row: Row) -> list[str]:
    """Places it may not be fed from, because the lead would be too long; a sentence each."""
    told = []
    for site in row.block.sites:
        far = [run.reach for run in row.runs if run.reach is not None and not run.reach.holds(site)]
        if far:
            worst = min(far)
            told.append(f"{_lead(worst, site, worst.lead_from_um(site) or 0)}; {worst.because}")
    return told


def _narrowest(row: Row) -> tuple[Run, Reach]:
    """The run that may be fed from the fewest places, and of those the one with the shortest lead."""
    reaches = [(run, run.reach) for run in row.runs if run.reach is not None]
    return min(
        reaches, key=lambda pair: (len(row.block.sites_for(pair[:1])), pair[1].longest_um, pair[0].tag)
    )


def _leads(row: Row, reach: Reach) -> list[tuple[str, int]]:
    return [(site, reach.lead_from_um(site) or 0) for site in row.block.sites]


def _lead(reach: Reach, site: str, lead_um: int) -> str:
    """
    >>> _lead(Reach(9_200_000, 14_000_000), "deck", 14_000_000)
    'its lead is 14 m'
    >>> _lead(Reach(9_200_000, None, (("PIT", 14_000_000),)), "PIT", 14_000_000)
    'from PIT the lead would be 14 m'
    """
    length = f"{said(lead_um / 1e6)} m"
    return (
        f"from {site} the lead would be {length}" if site in dict(reach.from_um) else f"its lead is {length}"
    )


def _named(row: Row, run: Run, because: str) -> str:
    """Of several runs, which one it is about."""
    return f"{run.tag}: {because}" if len(row.runs) > 1 else because


def _mend(reach: Reach, lead_um: int) -> str:
    """The least change with which a lead of this length would do; else what is left to do."""
    for longest_um, how in reach.others:
        if longest_um >= lead_um:
            return how
    if reach.longest_um > 0:
        return f"stand its gear nearer, within {floored(reach.longest_um)} m of lead"
    return "divide the run and give each part its own lead"


def floored(length_um: int) -> str:
    """Metres with one place, never rounded up: a longer lead would not do.

    >>> floored(9_299_999)
    '9.2'
    """
    return f"{length_um // 100_000 / 10:.1f}"
