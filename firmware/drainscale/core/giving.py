"""The platform (or a second one) as the place where fluid is pumped from: loss in weight.

What a jug loses while fluid is pumped counts, stroke by stroke; a pump set in or taken out, a
hand, a jug taken away full or empty do not. A pump's stroke goes one way, no faster than a
pump can; a hand or a pump of half a kilogram presses first, or is quicker.
"""

from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.weighing import Jug, Weighing
from drainscale.estimation.flow import Bin
from drainscale.estimation.platform import MAX_SLOPE_KG_PER_S, Gap, Lifted, Placed

LOSS_KG = 0.005  # the first sure loss
GOING_IN_KG = 0.015  # so much lost: fluid is being filled in
RAISED_KG = 0.020  # a step up is no fluid
STROKE_KG = 0.15  # more in one go, and not smoothly: a pump taken out
PRESS_KG = 0.015
IN_A_ROW = 3
TARE_S = 5.0


class Giving:
    """Books what leaves the jugs on one scale.

    Args:
        channel: The scale.
    """

    def __init__(self, channel: ScaleChannel) -> None:
        self._channel = channel
        self.jug: Jug | None = None
        self.placed_s = 0.0
        self.jugs: list[Jug] = []
        self.last_loss_s: float | None = None
        self.had_fault = False
        self._trusted_t = 0.0
        self._provisional = 0
        self._held_kg = 0.0

    def placed(self, placed: Placed) -> None:
        """A load was put there: a jug, perhaps."""
        self.jug = Jug(Weighing(placed.kg, placed.kg))
        self.placed_s = placed.t
        self._trusted_t = placed.known_t

    def lifted(self, lifted: Lifted) -> None:
        """The load was taken away."""
        jug, self.jug = self.jug, None
        if jug is None or not jug.has_lost:
            return
        kg = self._channel.flow.settled_kg(lifted.t_trusted, 0.0, 2.0)
        jug.weighing.to_kg = lifted.kg if kg is None else kg
        self._keep(jug)

    def _keep(self, jug: Jug) -> None:
        if jug.lost_kg > LOSS_KG and jug not in self.jugs:
            self.jugs.append(jug)

    def bin(self, one: Bin) -> None:
        """A half second of trusted readings."""
        jug = self.jug
        if jug is None:
            return
        self._trusted_t = one.t
        if jug.has_lost:
            if one.kg < jug.weighing.to_kg - 0.0005:
                self.last_loss_s = one.t
            jug.weighing.to_kg = one.kg
            return
        slope = self._channel.flow.slope(max(one.t - 3.1, self.placed_s))
        falls = slope is not None and slope.kg_per_s < -6.0 * slope.u_kg_per_s
        if falls and jug.weighing.from_kg - one.kg > LOSS_KG:
            self._first_loss(jug, one.t)
            jug.weighing.to_kg = one.kg
        elif not falls:
            # the tare goes along until fluid leaves: creep after loading is not the oil's
            tare = self._channel.flow.settled_kg(one.t, 0.0, TARE_S)
            jug.weighing.from_kg = jug.weighing.to_kg = one.kg if tare is None else tare
            jug.weighing.excluded_kg = 0.0

    def gap(self, gap: Gap) -> None:
        """A stretch that was not to be trusted: a stroke, a pump set in, a hand."""
        self._channel.flow.gap(gap)
        jug = self.jug
        if jug is None:
            return
        self._trusted_t = gap.t1
        step = gap.step_kg
        if self._is_stroke(gap):
            if -step > LOSS_KG and not jug.has_lost:
                jug.weighing.from_kg = jug.weighing.to_kg
                self._first_loss(jug, gap.t1)
            if step < 0.0:
                self.last_loss_s = gap.t1
        elif step > RAISED_KG or step < -STROKE_KG or not jug.has_lost:
            jug.weighing.exclude(step)
        jug.weighing.to_kg = gap.kg1

    @staticmethod
    def _is_stroke(gap: Gap) -> bool:
        dt = max(gap.t1 - gap.t0, 0.1)
        presses = gap.excursion_kg > PRESS_KG + 0.2 * abs(gap.step_kg)
        return gap.step_kg < 0.0 and -gap.step_kg / dt < MAX_SLOPE_KG_PER_S and not presses

    def _first_loss(self, jug: Jug, t: float) -> None:
        jug.has_lost = True
        self.last_loss_s = t

    @property
    def lost_kg(self) -> float:
        """What has left all jugs, by trusted readings."""
        total = sum(jug.lost_kg for jug in self.jugs)
        if self.jug is not None and self.jug.has_lost and self.jug not in self.jugs:
            total += self.jug.lost_kg
        return total

    @property
    def is_going_in(self) -> bool:
        """Whether the jug on the scale has lost so much that it can only be a filling."""
        return self.jug is not None and self.jug.has_lost and self.jug.lost_kg > GOING_IN_KG

    def provisional_kg(self, t: float) -> float | None:
        """What has left all jugs by the latest block, in the midst of a stroke.

        ``None`` while the reading does what no stroke does. Three blocks in a row have to say
        so: one may be a bounce.
        """
        jug, latest = self.jug, self._channel.latest_kg
        if jug is None or latest is None or not jug.has_lost:
            return None
        drop = jug.weighing.to_kg - latest
        most = MAX_SLOPE_KG_PER_S * max(t - self._trusted_t, 0.0) + 0.005
        if not -0.001 <= drop <= most:
            self._provisional = 0
            return None
        self._provisional += 1
        if self._provisional < IN_A_ROW:
            return None
        return self.lost_kg + drop

    def finish(self) -> list[Jug]:
        """All jugs that lost something, the present one included."""
        if self.jug is not None and self.jug.has_lost:
            self._keep(self.jug)
        return self.jugs
