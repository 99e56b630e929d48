"""What dark runs have in common: pure, on paths drawn by hand."""

from hypothesis import given
from hypothesis import strategies as st

from service.planning.dark.causes import Path, Thing, Width, check_of, ranked, together

DECODER, SUPPLY = Thing(Width.DECODER, "DC-1"), Thing(Width.SUPPLY, "PS-1")
OUTLET = Thing(Width.OUTLET, "MD1")


def a_path(run: str, *things: Thing) -> Path:
    return Path(run, run.partition("/")[0], "", "SQ", "", (Thing(Width.LEAD, run), *things))


ONE = a_path("A/1", DECODER, SUPPLY, OUTLET)
TWO = a_path("B/1", DECODER, SUPPLY, OUTLET)
THREE = a_path("C/1", Thing(Width.DECODER, "DC-2"), SUPPLY, OUTLET)
FOUR = a_path("D/1", Thing(Width.DECODER, "DC-3"), Thing(Width.SUPPLY, "PS-2"), OUTLET)
ALL = (ONE, TWO, THREE, FOUR)


def names(*paths: Path) -> frozenset[str]:
    return frozenset(path.run for path in paths)


def test_one_alone_is_most_likely_its_own_lead() -> None:
    first, *_ = ranked(ALL, names(ONE), frozenset())
    assert (first.thing.name, first.others) == ("A/1", ())


def test_what_explains_all_of_them_and_nothing_else_comes_first() -> None:
    first, *rest = ranked(ALL, names(ONE, TWO), frozenset())
    assert first.thing == DECODER
    assert [cause.thing for cause in rest[:2]] == [SUPPLY, OUTLET]


def test_what_feeds_something_lit_is_ruled_out_and_says_so() -> None:
    causes = ranked(ALL, names(ONE, THREE), names(TWO))
    ruled_out = {cause.thing for cause in causes if cause.is_ruled_out}
    assert ruled_out == {DECODER, SUPPLY, OUTLET}
    assert "B is lit, so it is not this" in check_of(next(c for c in causes if c.thing == SUPPLY))
    assert [c.thing.name for c in together(causes, names(ONE, THREE))] == ["A/1", "C/1"]


def test_two_causes_are_named_when_no_one_explains_all() -> None:
    far = a_path("E/1", Thing(Width.DECODER, "DC-9"))
    causes = ranked((*ALL, far), names(ONE, TWO, far), frozenset())
    assert [cause.thing.name for cause in together(causes, names(ONE, TWO, far))] == ["DC-1", "E/1"]


RUNS = st.sampled_from(ALL)


@given(st.sets(RUNS, min_size=1), st.sets(RUNS))
def test_every_cause_hangs_on_the_dark_and_the_fewest_explain_all_of_it(
    dark: set[Path], seen: set[Path]
) -> None:
    lit = names(*(seen - dark))
    causes = ranked(ALL, names(*dark), lit)
    for cause in causes:
        assert cause.explains
        assert {p.run for p in cause.explains} <= names(*dark)
        assert cause.is_ruled_out == any(p.run in lit for p in cause.others)
    some = together(causes, names(*dark))
    if some:
        assert {p.run for cause in some for p in cause.explains} == names(*dark)
        assert not any(cause.is_ruled_out for cause in some)
    else:
        assert len(dark) > 3
