"""How fast the service runs past, and where it lingers so that a cue can be read."""

from drainscale.signals.vocabulary import vocabulary

ABOUT_S = 52.0  # what the plain run takes; the lingering adds to it
LINGER_S = 3.0
LINGER_SHARE = 0.15


class Pace:
    """Turns seconds at the terminal into seconds of the service."""

    def __init__(self, duration_s: float, speed: float | None) -> None:
        """Choose the speed.

        Args:
            duration_s: Length of the service.
            speed: Seconds of the service a second, kept throughout; ``None``: so that the
                whole takes about a minute, slower for a moment when a cue asks for an action for
                the first time.
        """
        self.speed = speed if speed is not None else max(1.0, duration_s / ABOUT_S)
        self._lingers = speed is None
        self._seen: set[str] = set()
        self._slow_left_s = 0.0

    def step(self, elapsed_s: float, cue: str) -> float:
        """Return how far the service moves in ``elapsed_s`` at the terminal.

        Args:
            elapsed_s: Seconds since the last call.
            cue: The present cue.
        """
        if cue not in self._seen:
            self._seen.add(cue)
            asks = vocabulary().cues[cue].asks is not None
            self._slow_left_s = LINGER_S if asks and self._lingers else 0.0
        slow_s = min(elapsed_s, self._slow_left_s)
        self._slow_left_s -= slow_s
        return self.speed * (elapsed_s - slow_s + LINGER_SHARE * slow_s)
