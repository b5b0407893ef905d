"""One scale from raw counts to what happened on it."""

from drainscale.core.sensor_watch import SensorWatch
from drainscale.estimation.blocks import BlockMaker
from drainscale.estimation.flow import FlowTracker
from drainscale.estimation.platform import Happening, Platform
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.job import ScaleSettings

# between both, what stood there (an emptied bottle) or did not (a hand, a rag) goes on to
EMPTY_BELOW_KG = 0.040
LOADED_ABOVE_KG = 0.150
HOLE_S = 2.0


class ScaleChannel:
    """Calibration, blocks, platform, flow and watch of one scale.

    Args:
        settings: Its calibration.
        t: When the recording (or the job) begins.
    """

    def __init__(self, settings: ScaleSettings, t: float) -> None:
        self.calibration = Calibration(settings)
        self.platform = Platform(EMPTY_BELOW_KG, LOADED_ABOVE_KG, 1.0 / settings.rate_Hz)
        self.flow = FlowTracker()
        self.watch = SensorWatch(t)
        self._blocks = BlockMaker(self.calibration.indicated_kg, settings.rate_Hz)
        self._last_count: float | None = None
        self.latest_kg: float | None = None
        self._block_t = t
        self.blocks = 0  # so many have been judged
        self.hole: tuple[float, float] | None = None  # the last stretch without any reading

    def is_news(self, count: float) -> bool:
        """Whether a conversion differs from the last: a hanging converter repeats itself."""
        news = count != self._last_count
        self._last_count = count
        return news

    def add(self, t: float, count: float) -> list[Happening]:
        """Take a conversion; return what became known by it."""
        block = self._blocks.add(t, count)
        if block is None:
            return []
        self.latest_kg = block.kg
        if block.t - self._block_t > HOLE_S:
            self.hole = (self._block_t, block.t)
        self._block_t = block.t
        self.blocks += 1
        return self.platform.add(block)
