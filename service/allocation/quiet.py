"""A linear or whole-number program that says nothing on the terminal.

The solver prints two lines when its first program of a process is made, before any option can be set.
Where our own output is JSON for a script, two stray lines break it.
"""

import ctypes
import os
import sys
from functools import cache
from typing import Any


def linear_program() -> Any:
    """An empty HiGHS program on one thread, silent, so that equal programs give equal answers."""
    import highspy  # heavy: loaded only where the work is done

    _swallow_the_greeting()
    program: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    for option, setting in (("output_flag", False), ("log_to_console", False), ("threads", 1)):
        program.setOptionValue(option, setting)
    return program


@cache
def _swallow_the_greeting() -> None:
    """The first program of this process is made while standard output goes nowhere."""
    import highspy

    if os.name != "posix":
        highspy.Highs()  # type: ignore[no-untyped-call]
        return
    sys.stdout.flush()
    flush_c_output = ctypes.CDLL(None).fflush
    flush_c_output(None)
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]
        # The lines wait in the C library's buffer; without this they would come out later.
        flush_c_output(None)
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
