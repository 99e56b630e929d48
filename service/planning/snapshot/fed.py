"""Which run is fed from where: the rows of a plan beside those of its elements."""

from dataclasses import dataclass

from service.planning.snapshot.show import ElementRow, RunRow, ShowRows, TapeRow


@dataclass(frozen=True, slots=True)
class Fed:
    """One run with its element and where it is fed; unit ids are None for placeholders."""

    element: ElementRow
    run: RunRow
    supply_id: int | None
    supply_model_id: int | None
    output: int
    decoder_id: int | None
    decoder_model_id: int | None
    first_channel: int | None
    channels: int
    is_locked: bool

    @property
    def load_w(self) -> float:
        tape = self.element.tape
        return run_w(tape, self.run) if tape else 0.0

    @property
    def load_a(self) -> float:
        tape = self.element.tape
        return self.load_w / tape.class_v if tape else 0.0

    @property
    def load_basis(self) -> str:
        tape = self.element.tape
        return tape.load_basis if tape else ""

    @property
    def run_tag(self) -> str:
        return f"{self.element.tag}/{self.run.number}"


def run_w(tape: TapeRow, run: RunRow) -> float:
    """Watts of a run at full, all emitters. Micrometres first, so that 4.8 m at 19.2 W/m is 92.16 W."""
    return sum(e.w_per_m for e in tape.emitters) * (run.pitches * tape.pitch_um) / 1e6


def placeholder_tag(model: str) -> str:
    return f"any {model}"


def fed_runs(rows: ShowRows) -> list[Fed]:
    """Every run that the plan feeds, in order of element and run."""
    found = []
    for element in rows.elements:
        for run in element.runs:
            a = rows.allotments.get(run.id)
            if a is not None:
                found.append(
                    Fed(
                        element, run, a.supply_id, a.supply_model_id, a.output, a.decoder_id,
                        a.decoder_model_id, a.first_channel, a.channels, a.is_locked,
                    )
                )  # fmt: skip
    return found
