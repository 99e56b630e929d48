"""A draft is recognised by its question, also when another process worked it out."""

import os
import subprocess
import sys

ASK = """
from service.allocation.problem import Block, Link, Run, Signal, Source
from service.planning.asking import settled
run = Run("SQ-1/1", 1, (1,))
sets = frozenset(Source), frozenset(Link)
print(settled(Block("SQ-1", (run,), 24000, "common positive", Signal.LEVEL, ("Main Stage",), *sets)))
"""


def asked_with(hash_seed: str) -> str:
    """What a process says whose sets have an order of their own."""
    env = {**os.environ, "PYTHONHASHSEED": hash_seed}
    return subprocess.run(
        [sys.executable, "-c", ASK], env=env, check=True, capture_output=True, text=True
    ).stdout


def test_the_same_question_reads_the_same_in_every_process() -> None:
    first, *others = (asked_with(seed) for seed in ("0", "1", "2", "3"))
    assert first
    assert all(other == first for other in others)
