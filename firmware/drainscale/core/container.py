"""How full the drain container is."""

FULL_SHARE = 0.9
EMPTIED_KG = 0.05  # lighter by more than this when it comes back: it was emptied by that much


class Container:
    """Follows the fill of what stands under the drain.

    Args:
        capacity_L: What it holds.
        start_L: What was in it at the start.
    """

    def __init__(self, capacity_L: float, start_L: float) -> None:
        self._full_L = FULL_SHARE * capacity_L
        self._base_L = start_L
        self._tare_kg: float | None = None
        self._left_at_kg: float | None = None
        self._kg = 0.0
        self.was_full = False

    def stands(self, kg: float) -> None:
        """It was put on the scale and reads ``kg``."""
        self._tare_kg = kg
        self._kg = kg

    def lifted(self, kg_per_L: float) -> None:
        """It was taken away; what it held stays in it for now."""
        self._base_L = self.content_L(kg_per_L)
        self._left_at_kg = self._kg
        self._tare_kg = None

    def put_back(self, kg: float, kg_per_L: float, *, is_same: bool) -> None:
        """A container stands there again: the same, emptied or not, or another one."""
        if not is_same:
            gone_kg = 0.0 if self._left_at_kg is None else self._left_at_kg - kg
            if gone_kg > EMPTIED_KG:
                self._base_L = max(self._base_L - gone_kg / kg_per_L, 0.0)
            elif not self.weighs_like(kg):
                self._base_L = 0.0
            self.was_full = self.was_full and self._base_L >= self._full_L
        self.stands(kg)

    def weighs_like(self, kg: float) -> bool:
        """Whether a load of ``kg`` may be this container as it was left."""
        return self._left_at_kg is not None and abs(kg - self._left_at_kg) <= EMPTIED_KG

    def reads(self, kg: float) -> None:
        """Its latest trusted reading."""
        self._kg = kg

    def content_L(self, kg_per_L: float) -> float:
        """What is in it."""
        if self._tare_kg is None:
            return self._base_L
        return self._base_L + max(self._kg - self._tare_kg, 0.0) / kg_per_L

    def is_newly_full(self, kg_per_L: float) -> bool:
        """Whether it has just reached 90 % of its capacity."""
        if self.was_full or self.content_L(kg_per_L) < self._full_L:
            return False
        self.was_full = True
        return True
