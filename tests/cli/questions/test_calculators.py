"""`wattwright calculate`: without a database, with units as people write them."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.conftest import Ran

Command = Callable[..., Ran]
RIVER = (
    "calculate", "drop", "--emitter", "4.8 W/m", "--emitter", "4.8 W/m", "--emitter", "4.8 W/m", "--emitter",
    "4.8 W/m", "--length", "8 m", "--pitch", "100 mm", "--lead", "12 m", "--common", "25 mΩ/m", "--return",
    "50 mΩ/m",
)  # fmt: skip


def test_a_drop_is_told_with_the_way_out_the_source_and_the_caution(wattwright: Command) -> None:
    ran = wattwright(*RIVER)
    assert ran.code == 0
    assert ran.out.startswith("8 m fed at one end loses 2.97 V (12.38 %) at 7.95 m; more than the 5 %")
    assert "would do: feed both ends from the same supply output and use 16 AWG: 0.87 V" in ran.out
    assert "Source: Ohm's and Kirchhoff's laws" in ran.out
    assert "a licensed person decides" in ran.out


def test_a_script_gets_one_document(wattwright: Command) -> None:
    found = wattwright(*RIVER, "--json").document
    assert found["calculator"] == "drop"
    assert found["figures"][1]["value"] == pytest.approx(12.38, abs=0.005)


def test_the_drawing_is_written(wattwright: Command, tmp_path: Path) -> None:
    assert wattwright(*RIVER, "--picture", "river.svg").code == 0
    assert (tmp_path / "river.svg").read_text(encoding="utf-8").startswith("<svg ")


def test_what_is_wrong_is_named_by_its_option(wattwright: Command) -> None:
    ran = wattwright("calculate", "fuse", "--load", "4 W", "--gauge", "18 AWG")
    assert ran.code == 2
    assert "--load: '4 W' is a power, not a current" in ran.err
    assert "Write it in A" in ran.err


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("gauge", "--load", "3.2 A", "--back", "0.8 A", "--lead", "12 m"), "16 AWG: 3.20 A of 10.00 A"),
        (("fuse", "--load", "3.9 A", "--gauge", "18 AWG"), "5 A, at the source end of the 18 AWG lead"),
        (("longest-run", "--emitter", "14.4 W/m"), "fed at one end"),
        (("box", "--load", "184 W", "--rated", "320 W", "--area", "0.4 m2"), "°C inside"),
        (("marking", "--volts", "24 V", "--output", "4 A", "--wet"), "Within class 2 at 24 V"),
        (("mains", "--given", "384 W"), "a circuit carries 2"),
        (("battery", "--pack", "12 V", "--capacity", "7 Ah", "--load", "16.8 W"), "until it switches off"),
        (("line", "--receivers", "40"), "40 receivers are 40 of 32 unit loads"),
    ],
)
def test_each_calculator_answers(wattwright: Command, args: tuple[str, ...], says: str) -> None:
    ran = wattwright("calculate", *args)
    assert (ran.code, says in ran.out) == (0, True), ran
