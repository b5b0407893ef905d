"""The platform as the place where fluid runs out to: the stages of draining, and the spill.

One stage is one flow: from its onset until the next begins or the outlet is shut. Its mass is
the sum of what its containers gained; a container put back in mid-flow goes on where it was,
another one is a new weighing, and what fell beside in between is bridged.
"""

from dataclasses import dataclass

from drainscale.core.missed import MISSED_KNOWN_S, MISSED_SHARE, UNMOVED_SHARE, Missed
from drainscale.core.scale_channel import ScaleChannel
from drainscale.core.weighing import SAME_LOAD_KG, Stage, Unweighed, Weighing
from drainscale.estimation.drain import Tail, decayed_flow, fit_tail
from drainscale.estimation.levels import Bin
from drainscale.estimation.onset import Onset, find_onset
from drainscale.estimation.platform import Gap, Lifted, Placed
from drainscale.procedure.steps import Step

FOREIGN_KG = 0.030  # a step that no flow explains, and larger than this, is no fluid
PEAK_SHARE = 2.0
TAIL_EVERY_S = 2.0
BEFORE_S = 2.5  # a second flow is held against the tail so long ago
SURE_SHARE = 0.05  # a slope of two seconds known so well is taken as it is
YOUNG_S = 8.0  # before that a stage has no tail yet
DRIPS_IN_A_ROW = 2
REFINE_DRIP_S = 60.0
TARE_IN_FLOW_S = 3.5
HAND_S = 4.0  # who lifts or leans on a container lets go of it within this
STILL_OVER_S = 6.0  # nothing has run for so long: what runs next is another flow
STILL_KG_PER_S = 0.0002
FALSE_AFTER_S = 4.0  # a flow of which nothing is there any more by then was none
FALSE_UNTIL_S = 12.0
FALSE_KG = 0.0015  # half of what a flow has brought when it is seen
TOUCHED_KG = 0.004  # what still runs out of a shut outlet gives less in half of twenty seconds
BESIDE_SHARE = 0.5  # relative standard uncertainty of what fell beside


@dataclass(slots=True)
class Load:
    """What stands on the platform."""

    t: float
    kg: float  # latest trusted reading


@dataclass(frozen=True, slots=True)
class Away:
    """The load that was taken away while a stage ran."""

    t: float
    kg: float
    flow_kg_per_s: float


@dataclass(frozen=True, slots=True)
class PutBack:
    """A load that was taken for the one lifted before, and the books as they stood without it."""

    t: float
    weighing: Weighing
    to_kg: float
    excluded_kg: float
    excluded_n: int

    def undo(self) -> None:
        """It was another one after all."""
        self.weighing.to_kg = self.to_kg
        self.weighing.excluded_kg, self.weighing.excluded_n = self.excluded_kg, self.excluded_n


@dataclass(slots=True)
class Hand:
    """A step that no flow explained: a hand, perhaps, that lets go again.

    A trembling hand may look like a level that stands, so it can take more than one gap until it
    is gone; what the reading did meanwhile says nothing about oil.
    """

    weighing: Weighing | None  # None: nothing ran yet
    from_s: float
    from_kg: float
    flow_kg_per_s: float  # before it came
    excluded_kg: float  # from the books before it came
    until_s: float

    def may_go_on(self, gap: Gap, weighing: Weighing | None) -> bool:
        """Whether this gap may belong to the same hand."""
        is_soon = gap.t0 - self.until_s < HAND_S and gap.t1 - self.from_s < 3.0 * HAND_S
        return is_soon and self.weighing is weighing

    def has_gone(self, gap: Gap) -> bool:
        """Whether the reading is back where the flow alone would have brought it."""
        ran_kg = self.flow_kg_per_s * (gap.t1 - self.from_s)
        return abs(gap.kg1 - self.from_kg - ran_kg) <= FOREIGN_KG

    def foreign_kg(self, gap: Gap) -> float:
        """What no flow explains of the step of a single gap."""
        dt = gap.t1 - gap.t0
        low, high = sorted((self.flow_kg_per_s * dt, max(gap.slope1_kg_per_s, 0.0) * dt))
        high *= PEAK_SHARE  # it may have begun within the gap, stronger than it is now
        return gap.step_kg - min(max(gap.step_kg, low), high)


class Receiving:
    """Books what runs onto the platform.

    Args:
        channel: The drain scale.
    """

    def __init__(self, channel: ScaleChannel) -> None:
        self._channel = channel
        self.load: Load | None = None
        self.stage: Stage | None = None
        self.stages: list[Stage] = []
        self.tail: Tail | None = None
        self._tails: list[Tail] = []
        self._away: Away | None = None
        self._put_back: PutBack | None = None
        self._drips = 0
        self._hand: Hand | None = None
        self.shifted_kg = 0.0  # by steps while nothing ran: hands, or another load while unseen
        self._begin: Hand | None = None  # of the stage, as if it were none
        self._pressed_s: float | None = None  # a hand came while nothing ran
        self._dripped_known_s = 0.0  # when the stage was known to drip
        self._bridge: Unweighed | None = None  # what ran before the latest load was put there
        self._untared: Placed | None = None  # put there in mid-flow; it still rings
        self._missed: Missed | None = None
        self._still_s: float | None = None  # since then nothing runs any more out of a shut outlet

    # --- what happens on the platform -------------------------------------------------------

    def placed(self, placed: Placed) -> bool | None:
        """A load was put there.

        Returns:
            Whether it is the one that was taken away while a stage ran; ``None`` if no stage
            runs.
        """
        self.load = Load(placed.t, placed.kg)
        stage, away, self._away = self.stage, self._away, None
        self._channel.flow.new_segment()
        if stage is None or away is None:
            self._channel.flow.clear()
            return None
        ran_kg = self._ran_meanwhile(away, placed.t, stage)
        self._bridge = None
        surplus = placed.kg - away.kg - ran_kg
        if abs(surplus) <= SAME_LOAD_KG + 0.5 * ran_kg:
            last = stage.weighings[-1]
            books = away.kg, last.excluded_kg, last.excluded_n
            self._put_back = PutBack(placed.t, last, *books)
            last.to_kg = placed.kg
            return True
        stage.weighings.append(Weighing(placed.kg, placed.kg))
        self._untared = placed
        if ran_kg > 0.0:
            self._bridge = Unweighed(ran_kg, BESIDE_SHARE * ran_kg)
            stage.unweighed.append(self._bridge)
        return False

    @staticmethod
    def _ran_meanwhile(away: Away, t: float, stage: Stage) -> float:
        """Flow times time, the flow falling as a film's on the way."""
        since = max(away.t - stage.started_s, 5.0)
        dt = max(t - away.t, 0.0)
        decayed: float = (since / (since + 0.5 * dt)) ** 1.5
        return max(away.flow_kg_per_s, 0.0) * decayed * dt

    def lifted(self, lifted: Lifted) -> None:
        """The load was taken away."""
        self._missed = None
        if self.stage is not None and self.load is not None:
            kg = self._channel.flow.settled_kg(lifted.t_trusted, self.flow_kg_per_s(lifted.t))
            kg = self._rested_kg(lifted.kg if kg is None else kg)
            self.stage.weighings[-1].to_kg = kg
            self._away = Away(lifted.t, kg, self.flow_kg_per_s(lifted.t))
            if self.stage.ended_s is not None:
                self.stage = None
        self.load = None
        self._channel.flow.new_segment()

    def _rested_kg(self, kg: float) -> float:
        """What stood there after the outlet was shut, if a hand was at it in the last seconds."""
        if self._still_s is None:
            return kg
        rested_kg = self._channel.flow.middle_kg(self._still_s)
        return kg if rested_kg is None or abs(rested_kg - kg) < TOUCHED_KG else rested_kg

    def gap(self, gap: Gap) -> None:
        """A stretch was not to be trusted; take out what stayed and was no fluid."""
        flow = self._flow_before(gap.t0)
        self._channel.flow.gap(gap, flow)
        if self.load is None:
            return
        self._take_out_foreign(gap, flow, self.stage.weighings[-1] if self.stage else None)
        self.load.kg = gap.kg1

    def _take_out_foreign(self, gap: Gap, flow_kg_per_s: float, weighing: Weighing | None) -> None:
        """Take a step out that no flow explains; one that goes back soon after is put right."""
        if weighing is not None and self._was_a_hand(gap, weighing):
            weighing.excluded_kg = 0.0
            return
        excluded_kg = weighing.excluded_kg if weighing else 0.0
        own = Hand(weighing, gap.t0, gap.kg0, flow_kg_per_s, excluded_kg, gap.t1)
        hand = self._hand
        if hand is not None and hand.may_go_on(gap, weighing):
            hand.until_s = gap.t1
            if hand.has_gone(gap):
                self._pressed_s = None
                if weighing is not None:
                    weighing.excluded_kg = hand.excluded_kg
                return
        else:
            self._hand = own  # also of a small step: the way back may be told larger
        if weighing is None:
            if gap.step_kg > FOREIGN_KG:
                self._pressed_s = gap.t0
            if abs(gap.step_kg) > FOREIGN_KG:
                self.shifted_kg += gap.step_kg
            return
        foreign = own.foreign_kg(gap)
        if abs(foreign) > FOREIGN_KG:
            weighing.exclude(foreign)

    def _was_a_hand(self, gap: Gap, weighing: Weighing) -> bool:
        """Whether the flow that has just begun was a hand: the reading falls back to the tare."""
        begin = self._begin
        if begin is None or gap.step_kg > -FOREIGN_KG or not begin.may_go_on(gap, weighing):
            return False
        return begin.has_gone(gap)

    def _flow_before(self, t: float) -> float:
        if self.stage is None:
            return 0.0
        return max(self.flow_kg_per_s(t), 0.0)

    def bin(self, one: Bin) -> None:
        """A half second of trusted readings."""
        if self.load is None:
            if not self._channel.platform.is_loaded:
                return
            self.load = Load(one.t, one.kg)  # it stood there before anybody looked
        self.load.kg = one.kg
        self._look_at_missed(one)
        self._look_for_rest(one)
        self._tare_in_flow(one)
        if self.stage is not None and self._away is None:
            self.stage.weighings[-1].to_kg = one.kg

    def _tare_in_flow(self, one: Bin) -> None:
        """Date the tare of a container put under a running flow back to when it came."""
        placed, stage = self._untared, self.stage
        if placed is None or stage is None or one.t < placed.known_t + TARE_IN_FLOW_S:
            return
        self._untared = None
        slope = self._channel.flow.slope(placed.known_t + 0.5)
        flow = max(slope.kg_per_s, 0.0) if slope else 0.0
        stage.weighings[-1].from_kg = one.kg - flow * (one.t - placed.t)

    # --- flows -------------------------------------------------------------------------------

    def flow_kg_per_s(self, t: float) -> float:
        """The present flow onto the platform (0 if none runs)."""
        stage = self.stage
        if stage is None or stage.ended_s is not None:
            return 0.0
        last = self._channel.flow.last
        slope = self._channel.flow.slope(last.t - 2.1) if last else None
        if slope is not None and slope.u_kg_per_s < SURE_SHARE * slope.kg_per_s:
            return slope.kg_per_s  # a stream: it keeps to no tail's law yet
        if self.tail is not None and t - self.tail.t < 3.0 * TAIL_EVERY_S:
            return max(self.tail.kg_per_s, 0.0)
        if last is None:
            return 0.0
        if slope is None:
            return stage.flow_kg_per_s if t - stage.started_s < YOUNG_S else 0.0
        return max(decayed_flow(slope, t, stage.started_s), 0.0)

    def find_flow(self) -> Onset | None:
        """Look for a first flow onto this load, or one after the last outlet was shut."""
        if self.load is None:
            return None
        if self.stage is None:
            return find_onset(self._channel.flow, 0.0, self.load.t)
        if self._still_s is None:
            return None
        return find_onset(self._channel.flow, 0.0, max(self._still_s, self.load.t))

    def may_be_pressed(self, t: float) -> bool:
        """Whether a hand may lean on what stands there: it sways, and that looks like a flow."""
        return self._pressed_s is not None and t - self._pressed_s < HAND_S

    def _look_for_rest(self, one: Bin) -> None:
        """Whether what still ran when the outlet was said to be shut has ceased."""
        stage = self.stage
        if stage is None or stage.ended_s is None or self._still_s is not None:
            return
        since = max(one.t - STILL_OVER_S, stage.ended_s)
        if one.t - since < STILL_OVER_S - 0.1:
            return
        slope = self._channel.flow.slope(since)
        if slope is not None and slope.n >= 8 and slope.kg_per_s < STILL_KG_PER_S:
            self._still_s = one.t - 0.5 * STILL_OVER_S

    def find_second_flow(self, t: float) -> Onset | None:
        """Look for a second flow that stands out against the first one's tail."""
        stage, load = self.stage, self.load
        if stage is None or load is None or t - stage.started_s < YOUNG_S:
            return None
        before = next((x for x in reversed(self._tails) if x.t <= t - BEFORE_S), None)
        if before is None:
            return None
        onset = find_onset(self._channel.flow, max(before.kg_per_s, 0.0), load.t)
        return onset if onset and onset.t > stage.started_s + YOUNG_S else None

    def start(self, step: Step, onset: Onset) -> Stage:
        """A stage begins: what stood there then is its tare, and the last one's end."""
        if self.stage is not None:
            self.stage.weighings[-1].to_kg = onset.tare_kg
            self.close(onset.t)
        last = self._channel.flow.last
        kg = last.kg if last else onset.tare_kg
        self.stage = Stage(step, onset.t, onset.flow_kg_per_s, [Weighing(onset.tare_kg, kg)])
        self.stages.append(self.stage)
        # what was taken for its begin may still turn out a hand that goes back
        first = self.stage.weighings[0]
        self._begin = Hand(first, onset.t, onset.tare_kg, 0.0, 0.0, onset.known_t)
        self.tail, self._tails, self._drips = None, [], 0
        self._put_back = None
        self._still_s = None
        return self.stage

    def has_begun_falsely(self, t: float) -> bool:
        """Whether what was taken for the begin of a flow has gone again: a hand, amid shaking."""
        stage, begin = self.stage, self._begin
        if stage is None or begin is None or len(stage.weighings) != 1:
            return False
        if not FALSE_AFTER_S < t - begin.until_s < FALSE_UNTIL_S:
            return False
        kg = self._channel.flow.settled_kg(t, 0.0, FALSE_AFTER_S)
        weighing = stage.weighings[0]
        return kg is not None and kg - weighing.from_kg - weighing.excluded_kg < FALSE_KG

    def withdraw(self) -> None:
        """The stage that has begun falsely is none."""
        if self.stage is not None:
            self.stages.remove(self.stage)
        self.stage = self._begin = None

    def close(self, t: float) -> None:
        """The outlet is shut at ``t``; drops that fall later still belong to the stage."""
        if self.stage is not None and self.stage.ended_s is None:
            self.stage.ended_s = t
            if self.load is None:
                self.stage = None
                self._away = None

    def missed(self, t0: float, t1: float) -> None:
        """Nothing was recorded for a while; a hand at the container meanwhile stays unseen."""
        flow = self.flow_kg_per_s(t0)
        if self.stage is not None and flow > 0.0:
            one = Unweighed(0.0, MISSED_SHARE * flow * (t1 - t0))
            self.stage.unweighed.append(one)
            before = self._channel.flow.last
            if before is not None:
                self._missed = Missed(one, t1, before, flow)

    def _look_at_missed(self, one: Bin) -> None:
        """Take back what was allowed for a hand while nothing was recorded, if none was there."""
        missed = self._missed
        if missed is None or one.t < missed.t1 + MISSED_KNOWN_S:
            return
        self._missed = None
        slope = self._channel.flow.slope(missed.t1)
        if slope is not None and missed.went_on(one, slope):
            missed.unweighed.u_kg *= UNMOVED_SHARE / MISSED_SHARE

    def quiet_stage(self, t: float, from_kg: float, to_kg: float) -> Stage:
        """Books of a level check in which no flow was seen: the difference of two readings."""
        return Stage(Step.LEVEL, t, 0.0, [Weighing(from_kg, to_kg)], ended_s=t)

    def release(self, *, is_jug: bool = False) -> None:
        """What stands there now is no drain container any more (but a jug, as it gives fluid)."""
        if self.stage is None:
            return
        back, ended_s = self._put_back, self.stage.ended_s
        if back is not None and ended_s is not None and back.t > ended_s:
            back.undo()  # a jug that happened to weigh what the container did
        last = self.stage.weighings[-1]
        if len(self.stage.weighings) > 1 and (is_jug or last.gained_kg < 0.0):
            self.stage.weighings.pop()
            if self._bridge is not None:  # nothing fell beside: the flow was over
                self.stage.unweighed = [u for u in self.stage.unweighed if u is not self._bridge]
        self.stage = None

    def follow_tail(self, t: float, drip_kg_per_s: float) -> bool:
        """Renew the tail of the running stage; return whether it has dripped just now."""
        stage = self.stage
        if stage is None or self.load is None or stage.ended_s is not None:
            return False
        if self._tails and t - self._tails[-1].t < TAIL_EVERY_S - 0.01:
            return False
        tail = fit_tail(self._channel.flow, stage.started_s)
        if tail is None:
            return False
        self.tail = tail
        self._tails.append(tail)
        del self._tails[:-8]
        if stage.dripped_s is not None:
            if t - self._dripped_known_s < REFINE_DRIP_S:
                stage.dripped_s = min(tail.falls_below_s(drip_kg_per_s), t)
            return False
        self._dripped_known_s = t
        self._drips = self._drips + 1 if tail.kg_per_s < drip_kg_per_s else 0
        if self._drips < DRIPS_IN_A_ROW:
            return False
        stage.dripped_s = min(tail.falls_below_s(drip_kg_per_s), t)
        return True
