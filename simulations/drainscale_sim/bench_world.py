"""What the simulated board, and through it the kit, may ask of the world and tell it.

The world owns the clock. Whoever stands on this side asks what an ideal converter would read at a
time, and shows what the lamps and the sounder do; nothing else passes. Two things keep to it:
`World` (`world/world.py`) in the same process, and `WorldClient` (`world/client.py`) over a local
socket to one elsewhere.
"""

from typing import Literal, Protocol

Scale = Literal["drain", "supply"]
"""Which of the two scales."""

ScaleFault = Literal["silent", "stuck"]
"""`silent`: the converter never says that it is ready; `stuck`: it repeats its last word."""

PanFault = Literal["open", "short-to-ground", "short-to-supply", "silent"]
"""What the thermocouple's converter reports; `silent`: it does not answer on the bus."""


class BenchWorld(Protocol):
    """The world as the bench's wires reach it; all times in s since the world's start.

    Reading a value at `t_s` runs a lockstep world on to `t_s` where it is not yet there. A time
    in the past of the world is answered with what holds now: wires have no memory.
    """

    def now_s(self) -> float:
        """The world's clock, in s since its start; the only clock of a simulated run."""
        ...

    def advance_to(self, t_s: float) -> None:
        """Lockstep: the world runs on to `t_s` and waits there."""
        ...

    def bridge_counts(self, scale: Scale, t_s: float) -> float:
        """What an ideal converter would read, in counts, with noise, drift, creep and load in it.

        Not yet rounded and not saturated; this is the converter's part.
        """
        ...

    def scale_fault(self, scale: Scale, t_s: float) -> ScaleFault | None:
        """How the scale fails at `t_s`, or None."""
        ...

    def pan_skin_C(self, t_s: float) -> float:
        """The thermocouple's junction in °C, noise and bias included, not yet rounded."""
        ...

    def board_C(self, t_s: float) -> float:
        """The converter's own temperature in °C, not yet rounded."""
        ...

    def pan_fault(self, t_s: float) -> PanFault | None:
        """How the thermocouple fails at `t_s`, or None."""
        ...

    def foot_switch_pressed(self, t_s: float) -> bool:
        """Whether the technician's foot is on the switch; bounce is the board's part."""
        ...

    def lamps(self, t_s: float, lit: frozenset[str]) -> None:
        """What the kit shows from `t_s` on: the lamps that are lit, by colour; he sees it."""
        ...

    def sounder(self, t_s: float, pitch_Hz: float | None) -> None:
        """What the kit sounds from `t_s` on, in Hz, or None for silence; he hears it."""
        ...
