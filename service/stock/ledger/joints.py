"""Joints inside a reel, by their distance from its hub; pure. The hub is the inner end: tape is cut off the
outside, so that a joint stays where it is until the cuts reach it."""

from collections.abc import Iterable
from dataclasses import dataclass

from service.stock.records import JoinKind


@dataclass(frozen=True, slots=True, order=True)
class Joint:
    """`from_hub_pitches`: whole cut pitches from the inner end."""

    from_hub_pitches: int
    kind: JoinKind = JoinKind.FACTORY
    note: str = ""


def standing(joints: Iterable[Joint], left_pitches: int) -> list[Joint]:
    """Those that the reel still reaches beyond.

    >>> [j.from_hub_pitches for j in standing([Joint(30), Joint(60)], 60)]
    [30]
    """
    return sorted(joint for joint in joints if joint.from_hub_pitches < left_pitches)


def in_cut(joints: Iterable[Joint], left_pitches: int, cut_pitches: int) -> list[Joint]:
    """Those inside a length cut off the outside, from the inner end of that length. A joint at the very cut
    is in neither part.

    >>> [j.from_hub_pitches for j in in_cut([Joint(30), Joint(60), Joint(90)], 100, 40)]
    [30]
    """
    edge = left_pitches - cut_pitches
    return sorted(
        Joint(joint.from_hub_pitches - edge, joint.kind, joint.note)
        for joint in joints
        if edge < joint.from_hub_pitches < left_pitches
    )


def joined(onto_pitches: int, other: Iterable[Joint], note: str = "") -> list[Joint]:
    """The joints that a reel of `onto_pitches` gains when another is joined on outside, its inner end to our
    outer one, wound the same way: the new one, and each of the other's beyond it.

    >>> [(j.from_hub_pitches, str(j.kind)) for j in joined(20, [Joint(5)])]
    [(20, 'made'), (25, 'factory')]
    """
    moved = [Joint(onto_pitches + j.from_hub_pitches, j.kind, j.note) for j in other]
    return [Joint(onto_pitches, JoinKind.MADE, note), *sorted(moved)]
