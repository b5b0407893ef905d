"""The two contacts of the foot switch, debounced and watched.

One contact closes when pressed, the other opens. While the foot moves, both are open for some
milliseconds; both closed, or both open for long, is a broken cable or a plug that is out.
"""

import math
from dataclasses import dataclass

from drainscale.ports import REST_S, FootChange, FootEvent

DEBOUNCE_S = 0.03  # contacts of this size bounce for 1 to 10 ms (common practice, no source)
DISAGREEMENT_S = 1.0  # a change-over takes some 20 ms; so long: a fault


@dataclass(frozen=True, slots=True)
class Contacts:
    """Both contacts at one moment; True: connected to ground."""

    t: float
    closes: bool
    opens: bool

    @property
    def is_down(self) -> bool | None:
        """Tell whether the foot is on it; None: the contacts contradict each other."""
        return None if self.closes == self.opens else self.closes


class FootDebouncer:
    """Turns contacts into events: a change counts once it has stood for ``DEBOUNCE_S``.

    A contradiction counts as a fault once it has stood for ``DISAGREEMENT_S``, as does a switch
    that is down in the very first reading; both end with a switch that is up.
    """

    def __init__(self) -> None:
        self._now: Contacts | None = None
        self._stable: bool | None = None  # None: in fault, or nothing known yet
        self._is_faulty = False
        self._down_since_s = 0.0
        self._pressed_s = -math.inf  # when the last press that counted ended

    def see(self, contacts: Contacts) -> tuple[FootEvent, ...]:
        """Take the contacts in, at each change and now and then in between.

        Returns:
            What became certain by now, with the time when the contact moved.
        """
        before, t = self._now, contacts.t
        settled = () if before is None else self._settle(before, t)
        if before is None or before.is_down != contacts.is_down:
            self._now = contacts
        return settled

    def _settle(self, standing: Contacts, now_s: float) -> tuple[FootEvent, ...]:
        lasts_s = now_s - standing.t
        is_down = standing.is_down
        if is_down is None:
            if lasts_s >= DISAGREEMENT_S and not self._is_faulty:
                return self._fail(standing.t)
            return ()
        if lasts_s < DEBOUNCE_S or is_down == self._stable:
            return ()
        return self._change(is_down, standing.t)

    def _change(self, is_down: bool, t: float) -> tuple[FootEvent, ...]:
        was, was_faulty = self._stable, self._is_faulty
        if is_down and was is None:  # down at the start, or not yet seen up after a fault
            return () if was_faulty else self._fail(t)
        self._stable, self._is_faulty = is_down, False
        if is_down:
            self._down_since_s = t
            return (_event(t, "pressed"),)
        if was:
            return (self._release(t),)
        return (_event(t, "restored"),) if was_faulty else ()

    def _release(self, t: float) -> FootEvent:
        is_repeat = self._down_since_s - self._pressed_s < REST_S
        released = FootEvent(t, "released", t - self._down_since_s, is_repeat)
        if released.is_press:
            self._pressed_s = t
        return released

    def _fail(self, t: float) -> tuple[FootEvent, ...]:
        self._stable, self._is_faulty = None, True
        return (_event(t, "fault"),)


def _event(t: float, change: FootChange) -> FootEvent:
    return FootEvent(t, change)
