"""Which packages a folder holds, and which of them are needed, by what each says of itself."""

from collections.abc import Iterable
from importlib.metadata import Distribution, distributions
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name


def packages_in(folder: Path) -> dict[str, Distribution]:
    return {canonicalize_name(one.name): one for one in distributions(path=[str(folder)])}


def needed_by(name: str, extras: Iterable[str], packages: dict[str, Distribution]) -> set[str]:
    """`name` with these extras and all that it leads to; a KeyError names one that is missing."""
    ahead = [(name, extra) for extra in ("", *extras)]
    needed: set[tuple[str, str]] = set()
    while ahead:
        name, extra = one = ahead.pop()
        if one in needed:
            continue
        needed.add(one)
        for text in packages[name].requires or []:
            need = Requirement(text)
            if need.marker is None or need.marker.evaluate({"extra": extra}):
                wanted = canonicalize_name(need.name)
                ahead += [(wanted, more) for more in ("", *need.extras)]
    return {name for name, _ in needed}
