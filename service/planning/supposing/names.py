"""What was probably meant by a name that nothing has."""

import difflib
from collections.abc import Iterable


def near(name: str, known: Iterable[str]) -> str:
    """A sentence with the nearest names there are.

    >>> near("ps-2", ["PS-01", "PS-02", "DC-01"])
    'Nearest: PS-02, PS-01.'
    >>> near("x", [])
    'There is none.'
    """
    there = sorted(set(known))
    by_key = {one.casefold(): one for one in there}
    found = difflib.get_close_matches(name.strip().casefold(), list(by_key), n=3, cutoff=0.4)
    if found:
        return f"Nearest: {', '.join(by_key[key] for key in found)}."
    if not there:
        return "There is none."
    more = "" if len(there) <= 8 else " and more"
    return f"There are {', '.join(there[:8])}{more}." if len(there) > 1 else f"There is {there[0]}."
