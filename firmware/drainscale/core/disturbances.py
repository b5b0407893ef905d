"""When a knock, a touch or a move of the container is worth telling."""

from drainscale.estimation.platform import Gap

TELL_KG = 0.0025
TELL_SIGMAS = 5.0
TELL_SHAKING_KG = 0.0015
SAME_STRETCH_S = 2.0


class Disturbances:
    """Merges what shook the platform into stretches: one word for each."""

    def __init__(self) -> None:
        self._last_end_s = float("-inf")
        self.count = 0

    def gap(self, gap: Gap) -> bool:
        """Whether this gap begins a stretch that is to be told."""
        if not self._shows(gap):
            return False
        is_new = gap.t0 - self._last_end_s > SAME_STRETCH_S
        self._last_end_s = gap.t1
        self.count += is_new
        return is_new

    @staticmethod
    def _shows(gap: Gap) -> bool:
        if gap.is_noisy:
            return gap.sigma_kg > TELL_SHAKING_KG or gap.excursion_kg > TELL_KG
        return gap.excursion_kg > max(TELL_KG, TELL_SIGMAS * gap.sigma_kg)
