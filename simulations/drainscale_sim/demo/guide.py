"""What each step asks of the technician, and its cautions, read from ``guide.toml``."""

from functools import cache
from importlib.resources import files

import msgspec

HOT_FLUID_C = 60.0  # burns within seconds; burn-prevention literature, from memory


class StepGuide(msgspec.Struct, frozen=True):
    """One step: what to do now, and what may hurt."""

    now: str
    cautions: tuple[str, ...]


class Guide(msgspec.Struct, frozen=True):
    """All steps, and the line that holds in every one."""

    always: str
    steps: dict[str, StepGuide]

    def cautions(self, step: str, fluid_C: float | None) -> tuple[str, ...]:
        """Return a step's cautions, that of hot fluid first where the fluid is hot."""
        cautions = self.steps[step].cautions
        if fluid_C is None or fluid_C < HOT_FLUID_C:
            return cautions
        return (f"HOT: fluid near {fluid_C:.0f} °C burns within seconds.", *cautions)


@cache
def guide() -> Guide:
    """Return the guide of the demo."""
    text = files("drainscale_sim.demo").joinpath("guide.toml").read_text(encoding="utf-8")
    read = msgspec.toml.decode(text)
    always = read.pop("always")
    return Guide(always, msgspec.convert(read, dict[str, StepGuide]))
