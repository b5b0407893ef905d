"""A service that overruns, cools with the engine off, and is right the second time."""

import math
from dataclasses import dataclass, replace

from tests.kit.core.bench import Bench, Spill, WarmUp

COOLS_IN_S = 900.0  # time constant, a fan at the pan


@dataclass
class Cooled(Bench):
    """A bench whose engine can be switched off again."""

    stopped_s: float | None = None
    stopped_C: float = 0.0

    @property
    def fluid_C(self) -> float:
        """The fluid's true temperature."""
        if self.stopped_s is None:
            return super().fluid_C
        left = math.exp(-(self.t - self.stopped_s) / COOLS_IN_S)
        return self.air_C + (self.stopped_C - self.air_C) * left

    def stop_engine(self) -> None:
        """The fluid cools from now on."""
        self.stopped_C, self.stopped_s = self.fluid_C, self.t

    def start_engine(self) -> None:
        """The fluid warms from now on, from where it is."""
        self.warm_up = replace(self.warm_up, start_C=self.fluid_C)
        self.stopped_s = None
        super().start_engine()

    def warm_to(self, fluid_C: float) -> None:
        """Let the engine warm the fluid."""
        assert self.engine_s is not None
        self.wait(self.engine_s + self.warm_up.reaches_s(fluid_C) - self.t)

    def cool_to(self, fluid_C: float) -> None:
        """Wait, engine off."""
        self.wait(COOLS_IN_S * math.log((self.fluid_C - self.air_C) / (fluid_C - self.air_C)))


def overrun() -> Cooled:
    """Until the plug is shut too hot: 700 mL through a narrow pipe outlast the window."""
    bench = Cooled(warm_up=WarmUp(tau_s=350.0))
    bench.mark("prepare")
    bench.wait(15.0)
    bench.mark("circulate")
    bench.start_engine()
    bench.wait(20.0)
    bench.mark("warm")
    bench.place(0.9)
    bench.warm_to(37.5)
    bench.mark("level")
    bench.open_check(Spill(700.0, pipe_mL_per_s=3.0))
    bench.warm_to(46.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(15.0)
    bench.stop_engine()
    bench.wait(2.0)
    return bench


def second_attempt(bench: Cooled, *, is_start_marked: bool = True) -> None:
    """Start the engine again, warm, and set the level."""
    if is_start_marked:
        bench.mark("circulate")
    bench.start_engine()
    bench.warm_to(37.5)
    bench.mark("level")
    bench.open_check(Spill(180.0))
    bench.wait(60.0)
    bench.shut()
    bench.mark("seal")
    bench.wait(10.0)
