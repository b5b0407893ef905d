"""What the core tells the world: the contract's events."""

from dataclasses import dataclass
from typing import Literal

from drainscale.procedure.steps import Step

SensorName = Literal["scale", "supply", "pan"]

EventName = Literal[
    "placed", "lifted", "flow-started", "dripped", "refill-reached", "window-near", "open-plug",
    "close-plug", "no-spill", "will-overrun", "window-closing", "container-full", "sensor-fault",
    "sensor-restored", "disturbed",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Event:
    """Something became known at ``t``, s, in ``step``."""

    t: float
    event: EventName
    step: Step
    sensor: SensorName | None = None

    def to_dict(self) -> dict[str, object]:
        """The event as the contract writes it (times to 1 ms)."""
        told: dict[str, object] = {"t": round(self.t, 3), "event": self.event, "step": self.step}
        if self.sensor is not None:
            told["sensor"] = self.sensor
        return told
