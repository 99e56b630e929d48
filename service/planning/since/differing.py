"""Two photos of a show set side by side: pure."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from service.planning.since.photo import Photo, RunThen


@dataclass(frozen=True, slots=True)
class Change:
    """`what`: added, gone, tape, length, place, lead, fed, dark, moved, address, stands or load; `about`: a
    run, or the supply or decoder; before and after in words, blank where there is nothing."""

    what: str
    about: str
    name: str
    place: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Relabel:
    """A lead whose label no longer says what it should."""

    run: str
    name: str
    place: str
    before: str
    after: str


_OF_A_RUN: tuple[tuple[str, Callable[[RunThen], str]], ...] = (
    ("tape", lambda run: run.tape),
    ("length", lambda run: "" if run.length_mm is None else f"{run.length_mm:g} mm"),
    ("place", lambda run: run.place),
    ("lead", lambda run: run.lead),
)


def changes(before: Photo, after: Photo) -> list[Change]:
    """What differs: runs in the order of their tags, then where gear stands, then loads of supplies."""
    return [*_of_runs(before, after), *_of_gear(before, after), *_of_loads(before, after)]


def _of_runs(before: Photo, after: Photo) -> Iterator[Change]:
    for tag in sorted({*before, *after}):
        was, now = before.get(tag), after.get(tag)
        if was is None or now is None:
            one = now or was
            assert one is not None
            what, said = ("added", one.feed) if was is None else ("gone", one.feed)
            yield Change(
                what, tag, one.name, one.place, "" if was is None else said, said if was is None else ""
            )
            continue
        for what, of in _OF_A_RUN:
            if of(was) != of(now):
                yield Change(what, tag, now.name, now.place, of(was), of(now))
        if was.feed != now.feed:
            what = "fed" if not was.feed else "dark" if not now.feed else "moved"
            yield Change(what, tag, now.name, now.place, was.feed, now.feed)
        elif was.address != now.address:
            yield Change("address", tag, now.name, now.place, was.address, now.address)


def _of_gear(before: Photo, after: Photo) -> Iterator[Change]:
    """Units that both photos use and that stand, or are plugged in, elsewhere."""
    was, now = _standing(before), _standing(after)
    for unit in sorted(was.keys() & now.keys()):
        if was[unit] != now[unit]:
            yield Change("stands", unit, "", "", was[unit], now[unit])


def _standing(photo: Photo) -> dict[str, str]:
    found: dict[str, str] = {}
    for run in photo.values():
        if run.supply:
            where = (run.supply_place, run.box and f"in {run.box}", run.outlet and f"on {run.outlet}")
            found[run.supply] = ", ".join(filter(None, where))
        if run.decoder:
            found[run.decoder] = run.decoder_place
    return found


def _of_loads(before: Photo, after: Photo) -> Iterator[Change]:
    was, now = _loads(before), _loads(after)
    for supply in sorted({*was, *now}):
        old, new = was.get(supply), now.get(supply)
        if old is None or new is None or abs(old.load_w - new.load_w) > 1e-6 or old[1:] != new[1:]:
            yield Change("load", supply, "", "", old.text if old else "", new.text if new else "")


class _Load(NamedTuple):
    """What hangs on a supply. What it may carry in a box is the whole show's to tell, and not known here."""

    load_w: float
    limit_w: float | None
    box: str = ""

    @property
    def text(self) -> str:
        """
        >>> _Load(311.04, 256.0).text, _Load(96.0, None).text, _Load(99.84, None, "EN-2").text
        ('311.04 W (121.5 %)', '96.00 W (limit not known)', '99.84 W (in EN-2)')
        """
        share = f"{100 * self.load_w / self.limit_w:.1f} %" if self.limit_w else "limit not known"
        return f"{self.load_w:.2f} W ({f'in {self.box}' if self.box else share})"


def _loads(photo: Photo) -> dict[str, _Load]:
    found: dict[str, _Load] = {}
    for run in photo.values():
        if run.supply:
            before_w = found[run.supply].load_w if run.supply in found else 0.0
            found[run.supply] = _Load(before_w + run.load_w, run.limit_w, run.box)
    return found


def relabels(before: Photo, after: Mapping[str, RunThen]) -> list[Relabel]:
    """Every lead whose label differs, by place, then by tag: the order of a walk."""
    found = [
        Relabel(tag, now.name, now.place, was.label if was else "", now.label)
        for tag, now in after.items()
        if (was := before.get(tag)) is None or was.label != now.label
    ]
    found += [
        Relabel(tag, was.name, was.place, was.label, "") for tag, was in before.items() if tag not in after
    ]
    return sorted(found, key=lambda one: (one.place, one.run))
