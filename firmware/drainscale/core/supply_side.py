"""The second scale, under the supply jug, where there is one."""

from drainscale.core.giving import Giving
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.story import Story
from drainscale.estimation.platform import Gap, Happening, Lifted, Placed, Still
from drainscale.procedure.events import FluidGoingIn


class SupplySide:
    """Books the jugs on a scale of their own.

    Args:
        story: What the service knows.
        channel: The supply scale.
    """

    def __init__(self, story: Story, channel: ScaleChannel) -> None:
        self._story = story
        self.channel = channel
        self.giving = Giving(channel)
        channel.platform.may_be_pumped = True

    def count(self, t: float, count: float) -> None:
        """Take a conversion of the supply scale."""
        for happening in self.channel.add(t, count):
            self._happening(t, happening)

    def _happening(self, t: float, happening: Happening) -> None:
        if isinstance(happening, Still):
            done = self.channel.flow.still(happening)
            if done is not None:
                self.giving.bin(done)
        elif isinstance(happening, Gap):
            self.giving.gap(happening)
        elif isinstance(happening, Placed):
            self.channel.flow.clear()
            self.giving.placed(happening)
        elif isinstance(happening, Lifted):
            self.giving.lifted(happening)
        if self._story.is_filling(t):
            self.giving.is_filling()
        elif self.giving.is_going_in:
            self._story.move(FluidGoingIn(), t)
