"""A world set by hand, as a calibrator is: for trying drivers and boards one value at a time."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from drainscale_sim.bench_world import PanFault, Scale, ScaleFault


@dataclass(slots=True)
class HandSetWorld:
    """A ``BenchWorld`` whose values stand until they are set anew.

    ``counts`` may be a number or a function of the time; ``presses`` are the times, s, when a foot
    goes down and up again.
    """

    counts: dict[Scale, float | Callable[[float], float]] = field(
        default_factory=lambda: {"drain": 100_000.0, "supply": 200_000.0}
    )
    faults: dict[Scale, ScaleFault] = field(default_factory=dict)
    pan_C: float = 40.0
    air_C: float = 22.0
    fault_of_pan: PanFault | None = None
    presses: list[tuple[float, float]] = field(default_factory=list)
    seen: list[tuple[float, frozenset[str]]] = field(default_factory=list)
    heard: list[tuple[float, float | None]] = field(default_factory=list)
    t_s: float = 0.0

    def now_s(self) -> float:
        """Return the world's time."""
        return self.t_s

    def advance_to(self, t_s: float) -> None:
        """Run on."""
        self.t_s = max(self.t_s, t_s)

    def bridge_counts(self, scale: Scale, t_s: float) -> float:
        """Return what was set."""
        counts = self.counts[scale]
        return counts(t_s) if callable(counts) else counts

    def scale_fault(self, scale: Scale, t_s: float) -> ScaleFault | None:  # noqa: ARG002
        """Return what was set."""
        return self.faults.get(scale)

    def pan_skin_C(self, t_s: float) -> float:  # noqa: ARG002  # stands still
        """Return what was set."""
        return self.pan_C

    def board_C(self, t_s: float) -> float:  # noqa: ARG002
        """Return what was set."""
        return self.air_C

    def pan_fault(self, t_s: float) -> PanFault | None:  # noqa: ARG002
        """Return what was set."""
        return self.fault_of_pan

    def foot_switch_pressed(self, t_s: float) -> bool:
        """Tell whether a press covers this time."""
        return any(down_s <= t_s < up_s for down_s, up_s in self.presses)

    def lamps(self, t_s: float, lit: frozenset[str]) -> None:
        """Keep what was shown."""
        self.seen.append((t_s, lit))

    def sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        """Keep what was sounded."""
        self.heard.append((t_s, pitch_Hz))


def sequence_of(
    counts: Iterable[float], rate_Hz: float, first_s: float
) -> Callable[[float], float]:
    """Return a function of time that gives one count after the other, one a conversion."""
    listed = list(counts)

    def at(t_s: float) -> float:
        place = round((t_s - first_s) * rate_Hz)
        return listed[min(max(place, 0), len(listed) - 1)]

    return at
