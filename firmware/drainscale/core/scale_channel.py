"""One scale from raw counts to what happened on it."""

from drainscale.core.sensor_watch import SensorWatch
from drainscale.estimation.blocks import BlockMaker
from drainscale.estimation.flow import FlowTracker
from drainscale.estimation.platform import Happening, Platform
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.job import ScaleSettings

# an empty platform may carry a rag or a hand, no container: those weigh 0.2 kg and more
EMPTY_BELOW_KG = 0.1
EMPTY_BELOW_SHARE = 0.005


class ScaleChannel:
    """Calibration, blocks, platform, flow and watch of one scale.

    Args:
        settings: Its calibration.
        t: When the recording (or the job) begins.
    """

    def __init__(self, settings: ScaleSettings, t: float) -> None:
        self.calibration = Calibration(settings)
        self.platform = Platform(max(EMPTY_BELOW_KG, EMPTY_BELOW_SHARE * settings.capacity_kg))
        self.flow = FlowTracker()
        self.watch = SensorWatch(t)
        self._blocks = BlockMaker(self.calibration.indicated_kg, settings.rate_Hz)
        self._last_count: float | None = None
        self.latest_kg: float | None = None

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
        return self.platform.add(block)
