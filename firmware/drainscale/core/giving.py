"""The platform (or a second one) as the place where fluid is pumped from: loss in weight.

What a jug loses while fluid is pumped counts, stroke by stroke; a pump set in or taken out, a
hand, a jug taken away full or empty do not. A pump's stroke goes one way, no faster than a
pump can; a hand or a pump of half a kilogram presses first, or is quicker.
"""

from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.weighing import Jug, Weighing
from drainscale.estimation.levels import Bin
from drainscale.estimation.platform import MAX_SLOPE_KG_PER_S, Gap, Lifted, Placed

BLIND_S = 5.0  # of silence: whatever may be done to a jug may have been done
WHOLE_JUG_S = 15.0  # no jug is put down, emptied and taken away in less
LOSS_KG = 0.005  # the first sure loss
GOING_IN_KG = 0.025  # so much lost: fluid is being filled in
# A step of a pump set in or taken out. Smaller ones count: a stroke swings the jug, a hand leans
# on it, and both go back by themselves; taken out, they would not.
RAISED_KG = 0.15
STROKE_KG = 0.15
MOST_PUMP_KG = 1.0  # a larger step is another load (common practice, no source)
QUICK_KG_PER_S = 0.1  # so much and faster: a light pump taken out slowly, no stroke
PRESS_KG = 0.015
RESTS_AFTER_S = 1.5
CREEP_KG = 0.002  # what a cell creeps after loading
PUMPING_S = 6.0  # strokes follow each other faster than this
TARE_S = 5.0
RESTING_KG = 0.0005  # no more in half a second: nobody pumps
RESTING_BINS = 4  # nor holds a load so still for two seconds
HELD_S = 6.0  # nobody holds a load up for longer
SWING_SIGMAS = 2.0  # of a block about its line: as far as a jug swings either way
SWING_LEFT = 0.15  # of that, in a mean over two strokes


class Giving:
    """Books what leaves the jugs on one scale.

    Args:
        channel: The scale.
    """

    def __init__(self, channel: ScaleChannel) -> None:
        self._channel = channel
        self.jug: Jug | None = None
        self.placed_s = 0.0
        self._rests_s = 0.0
        self.jugs: list[Jug] = []
        self.last_loss_s: float | None = None
        self.has_failed = False  # fluid may have left a jug while the scale said nothing
        self._pumps: list[float] = []  # steps of pumps on the present jug
        self._pump: Gap | None = None  # the latest of them
        self._assumed_out_kg = 0.0  # a pump that must have been taken out while nobody looked
        self._rose_kg = 0.0  # how far its reading rose while nothing could be trusted
        self._was_silent = False  # the scale said nothing for a while since this jug stands there
        self._rose_unseen = False  # a pump was set in meanwhile, and fluid may have left as well
        self._is_pump_out = False  # it was seen to be taken out of this jug
        self._last: Bin | None = None
        self._rests = 0  # half seconds in which nothing moved
        self._rest: Bin | None = None  # the latest reading that stood still
        self._filled_kg = 0.0  # what has left the jugs up to the end of the last filling

    def placed(self, placed: Placed) -> None:
        """A load was put there: a jug, perhaps."""
        self.jug = Jug(Weighing(placed.kg, placed.kg))
        self._pumps, self._rose_kg, self._assumed_out_kg = [], 0.0, 0.0
        self._pump = self._last = self._rest = None
        self._was_silent = self._rose_unseen = self._is_pump_out = False
        self.placed_s = placed.t
        self._rests_s = placed.known_t + RESTS_AFTER_S

    def lifted(self, lifted: Lifted, *, is_refill: bool = True) -> None:
        """The load was taken away (while filling, as far as is known)."""
        jug, self.jug = self.jug, None
        if jug is None or not (jug.has_lost or is_refill):
            return
        hole = self._channel.hole
        if hole and lifted.t <= hole[1] + 1.0 and lifted.t >= hole[0] - 1.0:
            self.has_failed |= self._may_have_been_pumped(*hole)
        if not jug.has_lost:
            return
        jug.weighing.to_kg = self._last_kg(lifted)
        self._balance_pump(jug)
        self.has_failed |= self._rose_unseen and jug.lost_kg > LOSS_KG
        self._keep(jug)

    def _may_have_been_pumped(self, from_t: float, to_t: float) -> bool:
        """Whether a jug that went while the scale said nothing may have given more before."""
        if self._is_pump_out:  # set in, pumped and taken out once more: as long as a whole jug
            return to_t - from_t >= WHOLE_JUG_S
        pumped = self.last_loss_s is not None and from_t - self.last_loss_s < PUMPING_S
        return pumped or to_t - from_t >= BLIND_S

    def _balance_pump(self, jug: Jug) -> None:
        """A pump that was set in and taken out again took nothing with it but oil.

        So its steps need not be known: the jug without it, before and after, tells. Where only
        its taking out was seen, pumping or a silent scale may have hidden that it was set in.
        """
        left_kg = sum(self._pumps)
        most_kg = max(map(abs, self._pumps), default=0.0)
        was_in_and_out = min(self._pumps, default=0.0) < 0.0 < max(self._pumps, default=0.0)
        was_hidden = left_kg < -STROKE_KG and (self._rose_kg > 0.5 * -left_kg or self._was_silent)
        if (was_in_and_out and abs(left_kg) < 0.4 * most_kg) or was_hidden:
            jug.weighing.exclude(-left_kg)

    def _last_kg(self, lifted: Lifted) -> float:
        """What the jug weighed when it was taken: a mean, if it stood still so long."""
        flow = self._channel.flow
        settled_kg, last = flow.settled_kg(lifted.t_trusted, 0.0, 2.0), flow.last
        if settled_kg is None or last is None:
            return lifted.kg
        return settled_kg if abs(settled_kg - last.kg) < CREEP_KG else last.kg

    def was_blind(self, from_t: float, to_t: float) -> None:
        """The scale said nothing while filling: a whole jug may have come and gone."""
        self.has_failed |= self.jug is None and to_t - from_t >= WHOLE_JUG_S

    def _keep(self, jug: Jug) -> None:
        if jug.lost_kg > LOSS_KG and jug not in self.jugs:
            self.jugs.append(jug)

    def bin(self, one: Bin) -> None:
        """A half second of trusted readings."""
        jug = self._jug_at(one)
        if jug is None:
            return
        self._note_rest(one)
        if self._lets_go(one.t):
            self._move_pump_step(jug, one.kg)
            return
        if jug.has_lost:
            if one.kg < jug.weighing.to_kg - 0.0005:
                self.last_loss_s = one.t
            jug.weighing.to_kg = one.kg
            return
        weighing = jug.weighing
        if one.t < self._rests_s:  # it still rings from being put there
            jug.weighing = Weighing(one.kg, one.kg)
            return
        loss_kg = -(one.kg - weighing.from_kg - weighing.excluded_kg)
        if loss_kg > LOSS_KG:
            self._first_loss(jug, one.t)
            weighing.to_kg = one.kg
            return
        weighing.to_kg = one.kg
        tare = self._channel.flow.settled_kg(one.t, 0.0, TARE_S)
        if tare is None:
            return
        if abs(tare - weighing.from_kg - weighing.excluded_kg) < CREEP_KG:
            # the tare goes along until fluid leaves: creep after loading is not the oil's
            weighing.from_kg, weighing.excluded_kg, weighing.excluded_n = tare, 0.0, 0
            pump = self._pump
            if pump is not None and self._pumps and one.t - pump.t1 <= TARE_S:
                self._pumps[-1] = tare - pump.kg0  # it still rang when its step was read

    def _note_rest(self, one: Bin) -> None:
        last, self._last = self._last, one
        is_still = last is not None and abs(one.kg - last.kg) < RESTING_KG
        self._rests = self._rests + 1 if is_still else 0
        if self._rests >= RESTING_BINS:
            self._rest = one

    def _is_back(self, gap: Gap) -> bool:
        """Whether a hand that held the load up has let go: it weighs what it weighed before."""
        rest = self._rest
        if rest is None or gap.step_kg < 0.0 or gap.t1 - rest.t > HELD_S:
            return False
        return abs(gap.kg1 - rest.kg) < LOSS_KG

    def _jug_at(self, one: Bin) -> Jug | None:
        if self.jug is None and self._channel.platform.is_loaded:
            self.jug = Jug(Weighing(one.kg, one.kg))  # it stood there before anybody looked
            self.placed_s = one.t
            self._rests_s = one.t + RESTS_AFTER_S
        return self.jug

    def gap(self, gap: Gap) -> None:
        """A stretch that was not to be trusted: a stroke, a pump set in, a hand."""
        self._channel.flow.gap(gap)
        jug = self.jug
        if jug is None:
            return
        step = gap.step_kg
        if self._spans_silence(gap):
            self.has_failed |= jug.has_lost and step > RAISED_KG  # another jug may stand there now
            self._was_silent = True
            self._rose_unseen |= step > PRESS_KG
        self._rose_kg = max(self._rose_kg, gap.high_kg - max(gap.kg0, gap.kg1))
        if self._lets_go(gap.t1) and abs(step) < STROKE_KG:
            self._move_pump_step(jug, gap.kg1)
        elif self._hides_pump_out(gap):
            self._take_pump_out(jug, gap)
        elif self._is_stroke(gap):
            if -step > LOSS_KG and not jug.has_lost:
                self._first_loss(jug, gap.t1)
            if step < 0.0:
                self.last_loss_s = gap.t1
        elif self._is_no_fluid(gap) and not self._is_back(gap):
            self._put_pump_back(jug, gap)
            self._leave_out(jug, gap)
        elif -step > LOSS_KG and not jug.has_lost:
            self._first_loss(jug, gap.t1)  # a hand was there during the stroke
        jug.weighing.to_kg = gap.kg1

    def _lets_go(self, t: float) -> bool:
        """Whether the hand that has just set a pump in, or takes it out, may still be at it."""
        pump = self._pump
        return pump is not None and bool(self._pumps) and t - pump.t1 < RESTS_AFTER_S

    def _move_pump_step(self, jug: Jug, kg: float) -> None:
        """What the reading does meanwhile is the pump's step, no fluid."""
        moved_kg = kg - jug.weighing.to_kg
        self._pumps[-1] += moved_kg
        jug.weighing.excluded_kg += moved_kg
        jug.weighing.to_kg = kg

    def _leave_out(self, jug: Jug, gap: Gap) -> None:
        """Take a step out of the books that is a pump, or another jug that nobody saw come."""
        if abs(gap.step_kg) < MOST_PUMP_KG:
            jug.weighing.exclude(gap.step_kg)
            self._pumps.append(gap.step_kg)
            self._pump = gap
            self._is_pump_out = gap.step_kg < 0.0
            self._rose_unseen &= not self._is_pump_out
        elif jug.has_lost:
            jug.weighing.exclude(gap.step_kg)
        else:  # a slow converter may have seen no empty platform: tare what stands there
            jug.weighing = Weighing(gap.kg1, gap.kg1)

    def _hides_pump_out(self, gap: Gap) -> bool:
        """Whether a pump that stood in the jug has gone while the scale said nothing.

        What is missing is the pump and what was pumped before it was taken out, not all of it oil.
        """
        pump_kg = sum(self._pumps)
        return (
            pump_kg > STROKE_KG and -gap.step_kg > pump_kg - PRESS_KG and self._spans_silence(gap)
        )

    def _take_pump_out(self, jug: Jug, gap: Gap) -> None:
        pump_kg = self._assumed_out_kg = sum(self._pumps)
        jug.weighing.exclude(-pump_kg)
        self._pumps.append(-pump_kg)
        if -gap.step_kg - pump_kg > LOSS_KG and not jug.has_lost:
            self._first_loss(jug, gap.t1)

    def _put_pump_back(self, jug: Jug, gap: Gap) -> None:
        """It is seen to be taken out only now: what went before was all oil."""
        if self._assumed_out_kg > 0.0 and gap.step_kg < -STROKE_KG:
            jug.weighing.exclude(self._assumed_out_kg)
            self._pumps.append(self._assumed_out_kg)
            self._assumed_out_kg = 0.0

    def _spans_silence(self, gap: Gap) -> bool:
        hole = self._channel.hole
        if hole is None or hole[1] - hole[0] < BLIND_S:
            return False
        return gap.t0 - 1.0 <= hole[0] and hole[1] <= gap.t1 + 1.0

    @staticmethod
    def _is_stroke(gap: Gap) -> bool:
        dt = max(gap.t1 - gap.t0, 0.1)
        if -gap.step_kg > STROKE_KG and -gap.step_kg / dt > QUICK_KG_PER_S:
            return False
        presses = gap.excursion_kg > PRESS_KG + 0.2 * abs(gap.step_kg)
        if gap.is_noisy:
            return False
        return gap.step_kg < 0.0 and -gap.step_kg / dt < MAX_SLOPE_KG_PER_S and not presses

    @staticmethod
    def _is_no_fluid(gap: Gap) -> bool:
        """A pump set in or taken out; a level taken amid shaking is no proof of a small one."""
        if gap.is_noisy:
            return abs(gap.step_kg) > STROKE_KG and gap.excursion_kg > PRESS_KG
        return gap.step_kg > RAISED_KG or gap.step_kg < -STROKE_KG

    def _first_loss(self, jug: Jug, t: float) -> None:
        jug.has_lost = True
        self.last_loss_s = t
        hole = self._channel.hole
        if hole and hole[0] - 1.0 <= self.placed_s <= hole[1] + 1.0:
            self.has_failed |= t - hole[1] < PUMPING_S or hole[1] - hole[0] >= WHOLE_JUG_S

    @property
    def lost_kg(self) -> float:
        """What has left all jugs, by trusted readings."""
        total = sum(jug.lost_kg for jug in self.jugs)
        if self.jug is not None and self.jug.has_lost and self.jug not in self.jugs:
            total += self.jug.lost_kg
        return total

    @property
    def surely_lost_kg(self) -> float:
        """What has left all jugs, not by a single swing of a jug that is pumped hard."""
        jug = self.jug
        if jug is None or not jug.has_lost or not self._channel.platform.is_noisy:
            return self.lost_kg
        level_kg, swing_kg = self._channel.flow.swung_kg(), self._channel.platform.sigma_kg
        if level_kg is None:  # it has not swung for long enough to tell
            return self.lost_kg - SWING_SIGMAS * swing_kg
        return self.lost_kg + jug.weighing.to_kg - level_kg - SWING_LEFT * swing_kg

    @property
    def is_going_in(self) -> bool:
        """Whether so much has left since the last filling that it can only be another one."""
        return self.lost_kg - self._filled_kg > GOING_IN_KG

    def is_filling(self) -> None:
        """What has left so far belongs to a filling that is known."""
        self._filled_kg = self.lost_kg

    def finish(self) -> list[Jug]:
        """All jugs that lost something, the present one included."""
        if self.jug is not None and self.jug.has_lost:
            self._keep(self.jug)
        return self.jugs
