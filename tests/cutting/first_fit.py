"""First-fit-decreasing, the rule of the pencil: what the planner stands beside."""

from service.cutting.problem import Problem


def first_fit_decreasing(problem: Problem) -> tuple[int, int]:
    """New reels and scrap in pitches, for pieces without lots: the longest first, on the first reel that
    takes it, offcuts before reels, shorter before longer; new reels of the longest length.
    """
    shelf = sorted(problem.stock, key=lambda reel: (reel.is_sealed, reel.pitches, reel.tag))
    left = [reel.pitches for reel in shelf]
    whole = list(left)
    new = max((each.pitches for each in problem.buyable), default=0)
    for pitches in sorted((piece.pitches for piece in problem.wanted), reverse=True):
        at = next((n for n, room in enumerate(left) if room >= pitches), None)
        if at is None:
            left.append(new)
            whole.append(new)
            at = len(left) - 1
        left[at] -= pitches
    scrap = sum(
        rest
        for rest, all_of_it in zip(left, whole, strict=True)
        if rest < all_of_it and rest < problem.rules.keep_pitches
    )
    return len(left) - len(shelf), scrap
