"""Where joints are when tape is cut, made into offcuts and joined."""

from hypothesis import given
from hypothesis import strategies as some

from service.stock.ledger.joints import Joint, in_cut, joined, standing
from service.stock.records import JoinKind

LENGTHS = some.integers(1, 60)


@some.composite
def a_reel(draw: some.DrawFn) -> tuple[int, list[Joint]]:
    """Its length in cut pitches, and its joints, some of which the cuts have passed."""
    left = draw(LENGTHS)
    places = draw(some.sets(some.integers(1, 80), max_size=8))
    return left, [Joint(place, JoinKind.FACTORY, str(place)) for place in sorted(places)]


def places(joints: list[Joint]) -> list[int]:
    return [joint.from_hub_pitches for joint in joints]


@given(a_reel(), some.data())
def test_a_cut_parts_the_joints_between_what_is_left_and_what_comes_off(
    reel: tuple[int, list[Joint]], data: some.DataObject
) -> None:
    left, joints = reel
    cut = data.draw(some.integers(1, left))
    kept, off = standing(joints, left - cut), in_cut(joints, left, cut)

    assert all(0 < place < left - cut for place in places(kept))
    assert all(0 < place < cut for place in places(off))
    at_the_cut = [place for place in places(standing(joints, left)) if place == left - cut]
    assert len(kept) + len(off) + len(at_the_cut) == len(standing(joints, left))


@given(a_reel(), a_reel())
def test_two_reels_joined_and_cut_apart_again_have_the_joints_they_had(
    one: tuple[int, list[Joint]], other: tuple[int, list[Joint]]
) -> None:
    (left, joints), (more, theirs) = one, other
    ours, of_other = standing(joints, left), standing(theirs, more)
    whole = [*ours, *joined(left, of_other)]

    assert [j.from_hub_pitches for j in whole if j.kind is JoinKind.MADE] == [left]
    assert standing(whole, left) == ours
    assert in_cut(whole, left + more, more) == of_other
