"""Which figures of a kind of gear are blank, by the columns they are entered in.

Gear with any of them blank is never chosen by the allocator: a limit nobody has entered is no limit.
"""

from collections.abc import Mapping, Sequence


def supply_blanks(
    rated_w: float | None,
    caps_a: Sequence[float | None],
    full_to_degc: float | None,
    derate_per_k: float | None,
    max_degc: float | None,
) -> tuple[str, ...]:
    """
    >>> supply_blanks(320.0, [13.3], None, None, None)
    ('Full to', 'Derate', 'Hottest')
    """
    figures = {
        "Rated": rated_w,
        "Output cap": None if None in caps_a else 0.0,
        "Full to": full_to_degc,
        "Derate": derate_per_k,
        "Hottest": max_degc,
    }
    return tuple(name for name, figure in figures.items() if figure is None)


def battery_blanks(caps_a: Sequence[float | None]) -> tuple[str, ...]:
    return ("Max current",) if None in caps_a else ()


def decoder_blanks(channel_a: float | None, banks_a: Sequence[float | None]) -> tuple[str, ...]:
    """
    >>> decoder_blanks(None, [None]), decoder_blanks(5.0, [None, None])
    (('Channel', 'Total'), ('Bank',))
    """
    found: tuple[str, ...] = ("Channel",) if channel_a is None else ()
    if None in banks_a:
        found += ("Total",) if len(banks_a) == 1 else ("Bank",)
    return found


def listed(names: Sequence[str]) -> str:
    """
    >>> listed(["Full to", "Derate", "Hottest"]), listed(["Total"])
    ('Full to, Derate and Hottest', 'Total')
    """
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


def missing(blanks: Mapping[str, Sequence[str]]) -> tuple[str, str]:
    """(what is missing of these kinds, what to enter); a kind may not say which of its figures it is.

    >>> missing({"BIG": ("Hottest",)})
    ('its Hottest is not known', 'enter Hottest of BIG')
    >>> missing({"BIG": (), "OLD": ("Derate", "Hottest")})
    ('a limit of each is not known', 'enter the limits of BIG, or Derate and Hottest of OLD')
    """
    figures = {tag: listed(names) if names else "the limits" for tag, names in sorted(blanks.items())}
    mend = "enter " + ", or ".join(f"{figure} of {tag}" for tag, figure in figures.items())
    if len(blanks) > 1:
        return "a limit of each is not known", mend
    [names] = blanks.values()
    what = f"its {listed(names)} {'is' if len(names) == 1 else 'are'} not known" if names else ""
    return what or "a limit of it is not known", mend
