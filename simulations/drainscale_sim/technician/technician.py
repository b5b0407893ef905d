"""What the technician does, one state after the other, with human delays.

He sees lamps through his guide, and for himself only what anybody under a car sees: whether it
runs as a stream, whether the jug is empty. He reads no number. The order is that of the trade;
the vehicle's service information goes before it.
"""

from collections.abc import Callable
from random import Random

from drainscale_sim.bay.bay import Bay
from drainscale_sim.bay.hands import Hands
from drainscale_sim.bay.setup import Range, Setup
from drainscale_sim.technician.guides import Guide

Next = tuple[str, float] | None  # the state that follows, and in how many s; None: stay

STREAM_KG_PER_S = 0.0015  # a stream that nobody takes for drops
TOP_UP_KG = 0.26  # about a third of a quart
MUCH_MORE_KG = 1.3  # so much more than came out that he sees it by the marks on the vessels
OVERFLOW_ENDS_S = 25.0
# the target is in: go on, or first say what has to be said before the engine is started
ENOUGH = ("go-on", "get-ready")
MOST_DRAIN_S = 3600.0
MOST_WARM_S = 9000.0
MOST_ATTEMPTS = 3
MOST_JUGS = 12
MOST_REPEATS = 3  # of presses that the lamps ask for although he has pressed
ANSWER_WITHIN_S = 2.5  # no beeps after a press: nobody was there to hear it
MOST_UNHEARD = 8  # then he goes on without
LOOKS_S = 30.0  # at lamps that say nothing yet: a kit that is down comes back by then
DRY_S = 20.0  # the plug is open, nothing comes, and the lamps still say "open"
AMBER_TOO_LONG_S = 170.0  # "be ready" and nothing comes: something is asked that he said before


class Technician:
    """One person and one service.

    Args:
        setup: The run.
        bay: Where he works.
        guide: What he goes by.
    """

    def __init__(self, setup: Setup, bay: Bay, guide: Guide) -> None:
        self.setup, self.bay, self.guide = setup, bay, guide
        self.hands = Hands(bay)
        self.rng = Random(f"{setup.name} {setup.seed} technician")
        self.state = "arrive"
        self.due_s = 0.5
        self.since_s = 0.0  # when the state began
        self.is_gone = False
        self.is_full = self.saw_busy = False
        self.top_up_from_kg: float | None = None
        self.gears_left = self.attempts = self.repeats = 0
        self.amber_since_s: float | None = None
        self.pressed_s = 0.0
        self.unheard = 0
        self.after_answer: Next = None
        self.has_said_open = False
        self.via_hole = setup.limits.fill_via == "check-plug"
        self.lifts_left = setup.bench.lifts_in_drain
        self.swaps_left = setup.bench.swaps_in_drain

    def act(self, t: float) -> None:
        """Do what is due at `t`."""
        if self.is_gone or t < self.due_s:
            return
        does: Callable[[], Next] = getattr(self, self.state)
        follows = does()
        if follows is not None:
            self.state, wait_s = follows
            self.due_s = self.since_s = t + wait_s

    def cue(self) -> str | None:
        """What his guide says now."""
        return self.guide.cue(self.bay.t, self.bay)

    def some(self, span: Range) -> float:
        """Draw from a range."""
        return self.rng.uniform(*span)

    @property
    def reaction_s(self) -> float:
        """How long until he acts on a cue."""
        return self.some(self.setup.work.reaction_s) if self.guide.is_kit else 0.3

    @property
    def handling_s(self) -> float:
        """How long a handling takes."""
        return self.some(self.setup.work.handling_s)

    @property
    def walk_s(self) -> float:
        """How long he is away between two parts of the work."""
        return self.some(self.setup.work.walk_s)

    @property
    def waited_s(self) -> float:
        """How long he is in this state."""
        return self.bay.t - self.since_s

    def press(self) -> None:
        """Step on the foot switch, if there is a kit."""
        if self.guide.is_kit:
            self.pressed_s = self.bay.t
            self.hands.press_foot(self.some(self.setup.work.press_s))

    def say(self, follows: Next) -> Next:
        """Press, and wait for the beeps before anything else is done."""
        self.press()
        self.after_answer, self.unheard = follows, 0
        return ("listen", 0.1) if self.guide.is_kit else follows

    def listen(self) -> Next:
        """Press again until it is answered: a kit that starts anew hears nothing."""
        now_s = self.bay.t
        if self.guide.answer(now_s, self.pressed_s) is not None or self.unheard >= MOST_UNHEARD:
            return self.after_answer
        if now_s - self.pressed_s > ANSWER_WITHIN_S:
            self.unheard += 1
            self.press()
        return None

    def press_again(self) -> bool:
        """Press where the lamps still ask what he has said: nobody was there to hear it."""
        if self.repeats >= MOST_REPEATS or not self.guide.is_kit or self.cue() != "get-ready":
            return False
        self.repeats += 1
        self.press()
        return True

    # the drain

    def arrive(self) -> Next:
        """Begin the service; the lift is set and the fill plug tried before."""
        self.bay.ledger.begin(self.bay.t, "prepare")
        return "place", self.handling_s

    def place(self) -> Next:
        """Put the container under."""
        self.hands.place_container()
        return "await_drain", self.handling_s

    def await_drain(self) -> Next:
        """Wait for the kit to be ready."""
        if self.cue() == "go-on" or self.waited_s > 600.0:
            return "open_drain", self.reaction_s
        return None

    def open_drain(self) -> Next:
        """Open the plug."""
        self.hands.open_drain()
        return "watch_drain", 20.0

    def pull_pipe(self) -> Next:
        """Pull the standpipe through the open plug."""
        self.hands.pull_pipe()
        return "watch_drain", 20.0

    def watch_drain(self) -> Next:
        """Let it run until the guide says to go on; never while it plainly streams."""
        cue, bay = self.cue(), self.bay
        if cue == "stop":
            return "overflow", self.reaction_s
        if self.lifts_left > 0 and self.waited_s > 30.0 * self.lifts_left:
            self.lifts_left -= 1
            return "put_back", self.hands.lift_container(is_held_under=True)
        if self.swaps_left > 0 and self.waited_s > 45.0 * self.swaps_left:
            self.swaps_left -= 1
            self.hands.lift_container()
            return "swap", self.some((2.0, 5.0))
        streams = bay.vehicle.flow_kg_per_s > STREAM_KG_PER_S
        if (cue == "go-on" and not streams) or self.waited_s > MOST_DRAIN_S:
            vehicle = bay.vehicle
            has_more = vehicle.setup.has_standpipe and vehicle.pipe_in
            return "pull_pipe" if has_more else "shut_drain", self.reaction_s
        return None

    def put_back(self) -> Next:
        """Put the container back that was lifted, within seconds."""
        self.hands.place_container()
        return "watch_drain", 1.0

    def swap(self) -> Next:
        """Put another container under; what falls meanwhile falls beside."""
        self.hands.take_another_container()
        self.hands.place_container()
        return "watch_drain", 1.0

    def overflow(self) -> Next:
        """Swap the full container for an empty one: shut first what can be shut."""
        bay = self.bay
        bay.vehicle.drain_open = False
        self.hands.lift_container()
        self.hands.empty_container()
        return "overflow_over", self.handling_s

    def overflow_over(self) -> Next:
        """Put the empty container under and open again."""
        self.hands.place_container()
        self.bay.vehicle.drain_open = True
        return "watch_drain", 5.0

    def shut_drain(self) -> Next:
        """Standpipe in, plug in, to their torque."""
        self.hands.shut()
        self.bay.ledger.begin(self.bay.t, "refit")
        return "refitted", self.handling_s

    def refitted(self) -> Next:
        """Say that the standpipe is torqued; a unit without one asks for nothing here."""
        if self.via_hole:  # the container stays: it catches what overflows
            follows = ("fetch_jug", self.walk_s)
        else:
            follows = ("lift", self.handling_s)
        return self.say(follows) if self.setup.vehicle.has_standpipe else follows

    def lift(self) -> Next:
        """Take the container off the platform."""
        self.hands.lift_container()
        self.is_full = self.saw_busy = False
        return "fetch_jug", self.walk_s

    # the refill

    def fetch_jug(self) -> Next:
        """Put a full jug on the platform."""
        if self.bay.ledger.step != "refill":
            self.bay.ledger.begin(self.bay.t, "refill")
        self.hands.put_jug(self.setup.bench.jug_L)
        return "put_pump_in", self.handling_s

    def put_pump_in(self) -> Next:
        """Put the pump into the jug; a glance at the lamps, for one alone tells no pattern."""
        self.cue()
        self.hands.pump_in()
        return "start_pump", max(0.5 * self.handling_s, 4.0)

    def start_pump(self) -> Next:
        """Begin to pump."""
        if self.press_again():  # not "add": the standpipe is asked for
            return "start_pump", self.some((3.0, 6.0))
        if self.via_hole:
            self.hands.open_rim()
        self.hands.pump()
        if len(self.bay.ledger.jugs) == 1:  # with the next ones the kit is at the filling already
            self.saw_busy = False
        return "pumping", 0.5

    def pumping(self) -> Next:
        """Pump until the guide says that it is enough, or the jug is empty."""
        cue, bay = self.cue(), self.bay
        self.saw_busy = self.saw_busy or cue in ("add", "wait")
        if self.via_hole and not bay.vehicle.engine_on:
            self.is_full = bay.vehicle.flow_kg_per_s > STREAM_KG_PER_S  # it overflows
        elif self.top_up_from_kg is not None:
            self.is_full = bay.ledger.added_kg - self.top_up_from_kg >= TOP_UP_KG
        elif self.guide.is_kit:
            seems_much = bay.ledger.added_kg > bay.ledger.drained_kg + MUCH_MORE_KG
            self.is_full = (self.saw_busy and cue in ENOUGH) or seems_much
        else:
            self.is_full = cue == "go-on"
        if self.is_full or not bay.is_pumping:
            self.hands.stop_pump()
            drips_s = OVERFLOW_ENDS_S if self.via_hole and self.is_full else 0.0
            return "put_pump_out", self.some((2.0, 6.0)) + drips_s
        return None

    def put_pump_out(self) -> Next:
        """Take the pump out."""
        if self.via_hole and self.is_full:
            self.hands.shut()
        self.hands.pump_out()
        return "jug_off", self.some((3.0, 10.0))

    def jug_off(self) -> Next:
        """Take the jug away; another one if it was not enough."""
        self.hands.take_jug()
        if self.guide.is_kit and self.top_up_from_kg is None:  # it may have run dry just then
            self.is_full = self.is_full or (self.saw_busy and self.cue() in ENOUGH)
        if not self.is_full and self.has_jugs:
            return "fetch_jug", self.handling_s
        self.top_up_from_kg = None
        self.is_full = False
        if not self.bay.vehicle.engine_on:
            return "confirm_start", self.walk_s
        self.bay.ledger.begin(self.bay.t, "warm")
        return self.to_the_plug, self.walk_s

    @property
    def has_jugs(self) -> bool:
        """Whether there is fluid left to fetch."""
        return len(self.bay.ledger.jugs) < MOST_JUGS

    def is_short(self, cue: str | None) -> bool:
        """Whether the kit asks for more; a unit that overflowed through its hole takes no more."""
        return self.guide.is_kit and cue == "add" and self.has_jugs and not self.via_hole

    # the warm-up

    def confirm_start(self) -> Next:
        """Brake held, wheels clear, nobody under: say so, then start."""
        cue = self.cue()
        if cue is None and self.guide.is_kit and self.waited_s < LOOKS_S:
            return None
        if self.is_short(cue):
            return "fetch_jug", self.handling_s
        return self.say(("start_engine", self.some((4.0, 10.0))))

    def start_engine(self) -> Next:
        """Start the engine, unless it is still asked whether it may be."""
        if self.is_short(self.cue()):
            return "fetch_jug", self.walk_s
        if self.press_again():
            return "start_engine", self.some((4.0, 10.0))
        self.hands.start_engine()
        if self.attempts == 0:
            self.bay.ledger.begin(self.bay.t, "circulate")
        self.gears_left = self.rng.randint(4, 6)
        return "shift", self.some((8.0, 20.0))

    def shift(self) -> Next:
        """Go through the gears."""
        if self.gears_left > 0:
            self.gears_left -= 1
            return "shift", self.hands.shift() + self.some((3.0, 8.0))
        self.bay.ledger.begin(self.bay.t, "warm")
        return "park", self.some((4.0, 10.0))

    def park(self) -> Next:
        """Selector in P, brake on, vehicle level: say so before going under."""
        if self.via_hole and self.attempts == 0:  # what the circuit took is topped up, running
            return self.say(("fetch_jug", self.walk_s))
        return self.say((self.to_the_plug, self.walk_s))

    @property
    def to_the_plug(self) -> str:
        """Where he goes when the fluid warms."""
        is_there = self.bay.platform.stands is self.bay.container
        return "await_open" if is_there else "back_under"

    def back_under(self) -> Next:
        """Put the container back."""
        self.hands.place_container()
        return "await_open", self.some((1.0, 3.0))

    # the level

    def await_open(self) -> Next:
        """Wait for the window."""
        cue = self.cue()
        if cue == "open":
            return "open_level", self.reaction_s
        self._watch_amber(cue)
        if self.waited_s > MOST_WARM_S:
            return "finish", self.handling_s
        return None

    def _watch_amber(self, cue: str | None) -> None:
        """Be ready, and nothing comes: after a while say again what was said before."""
        now_s, since_s = self.bay.t, self.amber_since_s
        if cue in (None, "fault"):  # for seconds after it was down, say
            return
        if cue != "get-ready":
            self.amber_since_s = None
        elif since_s is None or (now_s - since_s > AMBER_TOO_LONG_S and self.press_again()):
            self.amber_since_s = now_s

    def open_level(self) -> Next:
        """Open the level plug."""
        self.attempts += 1
        self.has_said_open = False
        self.hands.open_level()
        return "watch_level", 1.0

    def watch_level(self) -> Next:
        """Watch it run until the guide says to shut, or to add."""
        cue = self.cue()
        if cue in ("shut", "stop") or self.waited_s > self.setup.work.most_open_s:
            return "shut_level", self.reaction_s
        if cue == "add":
            return "shut_to_add", self.reaction_s
        is_dry = self.bay.vehicle.flow_kg_per_s <= 0.0
        if cue == "open" and is_dry and self.waited_s > DRY_S and not self.has_said_open:
            self.has_said_open = True
            self.press()  # that it is open; only a stream would have told the kit
        return None

    def shut_to_add(self) -> Next:
        """Shut the plug and fetch a jug: what is missing goes in, engine running."""
        self.hands.shut()
        self.top_up_from_kg = self.bay.ledger.added_kg
        self.bay.ledger.begin(self.bay.t, "refill")
        return "lift", self.handling_s

    def shut_level(self) -> Next:
        """Shut the plug."""
        self.hands.shut()
        self.bay.ledger.begin(self.bay.t, "seal")
        return "torqued", self.some((12.0, 30.0))

    def torqued(self) -> Next:
        """Say that the plug is torqued."""
        return self.say(("decide", 8.0))

    def decide(self) -> Next:
        """All well: finish. Not set: engine off, let it cool and start again."""
        cue = self.cue()
        if cue == "go-on" or not self.guide.is_kit or self.attempts >= MOST_ATTEMPTS:
            return "finish", self.some((2.0, 8.0))
        if self.waited_s < 30.0:
            return None
        self.hands.stop_engine()
        self.bay.ledger.begin(self.bay.t, "warm")
        return "say_cooling", self.some((3.0, 8.0))

    def say_cooling(self) -> Next:
        """Say that the engine is off, so that the kit waits as well."""
        return self.say(("cool", 60.0))

    def cool(self) -> Next:
        """Wait, engine off, until the kit says that it may be started again."""
        if self.cue() in ENOUGH:
            return "confirm_start", self.walk_s
        return ("finish", self.handling_s) if self.waited_s > MOST_WARM_S else None

    def finish(self) -> Next:
        """Engine off, container off, all wiped dry."""
        self.hands.stop_engine()
        self.hands.lift_container()
        return "close", self.some((3.0, 12.0))

    def close(self) -> Next:
        """Tick the list for the end of the job."""
        self.bay.ledger.begin(self.bay.t, "done")
        return self.say(("leave", self.some((4.0, 8.0))))

    def leave(self) -> Next:
        """Go home, once the kit has put its lamps out."""
        if self.cue() == "go-on" and self.repeats < MOST_REPEATS and self.guide.is_kit:
            self.repeats += 1
            self.press()
            return "leave", 6.0
        self.is_gone = True
        return None
