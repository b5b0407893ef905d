"""An extended Kalman filter over fluid, engine and skin, with the vehicle's constants in it.

Strategy: only three of the eleven states move by themselves; the rest are constants that
the readings narrow. So the covariance is carried by rows, and a step costs some forty
microseconds in plain Python. Nothing here knows of windows or events.

    skin'   = (air + ratio * (fluid - air) - skin) / lag
    reading = skin + sensor error

Source:
    Kalman filter with first-order linearisation: any textbook (from memory).
"""

import math
from typing import Final

from drainscale.estimation import temperature_priors as prior
from drainscale.estimation.temperature_dynamics import (
    CHURN,
    ENGINE,
    ENGINE_FINAL,
    FLUID,
    HEAT_SIZE,
    LN_COUPLING,
    LN_PACE,
    LN_STRENGTH,
    Row,
    by_engine_step,
    by_fluid_step,
    carry_heat,
    heat_rate_K_per_s,
)
from drainscale.quantities.job import PanSensor

SKIN: Final = HEAT_SIZE  # °C
RATIO: Final = SKIN + 1  # 1
LN_LAG: Final = SKIN + 2  # ln of s
SENSOR: Final = SKIN + 3  # K
SIZE: Final = SKIN + 4

# while idle these are not learnt: fluid mixing in would be taken for an odd ratio or lag
_CONSTANTS: Final = (RATIO, LN_LAG, SENSOR)

_LEAST_LAG_S: Final = 1.0
_LN_2PI: Final = math.log(2 * math.pi)
# an innovation beyond this many sigma is taken with a wider noise instead of at face value
_DOUBT_SIGMA: Final = 4.0
_STIR_SIGMA: Final = 2.0
_LEAST_LET_GO_K: Final = 0.75  # in a block: a clamp on a pan 7 K off; an engine does a third of it
# a fan kick shows as innovations that keep to one side: their running mean, as one sigma
_KICK_KEEP: Final = 0.85
_KICK_SIGMA: Final = 2.5
_LEAST_SOAK_SHARE: Final = 0.02
_ENGINE_UNKNOWN_U_K: Final = 3.0  # overwritten at the start
_LEAST_VARIANCE: Final = 1e-6  # K²
# beyond these no vehicle and no shop is; readings that ask for it (the clamp put on a warm pan,
# taken for an engine start) must not blow the linearised filter up
_LEAST_RATIO: Final = 0.02
_MOST_RATIO_U: Final = 0.5
_MOST_SENSOR_U_K: Final = 20.0
_LN_FAR: Final = 2.5  # a factor of 12 either way
_LIMITS: Final = {
    FLUID: (-60.0, 220.0),
    ENGINE: (-60.0, 220.0),
    LN_COUPLING: (-math.log(prior.FLUID_TIME_S) - _LN_FAR, -math.log(prior.FLUID_TIME_S) + _LN_FAR),
    LN_PACE: (-math.log(prior.ENGINE_TIME_S) - _LN_FAR, -math.log(prior.ENGINE_TIME_S) + _LN_FAR),
    ENGINE_FINAL: (30.0, 160.0),
    CHURN: (-0.1, 0.2),
    LN_STRENGTH: (-_LN_FAR, _LN_FAR),
    SKIN: (-60.0, 220.0),
    RATIO: (_LEAST_RATIO, 2.0),
    LN_LAG: (math.log(0.1), math.log(6000.0)),
    SENSOR: (-50.0, 50.0),
}


def _density(x: float, u: float) -> float:
    """Normal density, up to the constant."""
    return math.exp(-0.5 * (x / u) ** 2) / u


def _prior_u(sensor: PanSensor, lag_s: float) -> tuple[float, ...]:
    """Standard uncertainties of the states before any reading; fluid and skin: own parts."""
    return (
        prior.UNSETTLED_U_K, _ENGINE_UNKNOWN_U_K, prior.FLUID_TIME_LN_U, prior.ENGINE_TIME_LN_U,
        prior.ENGINE_FINAL_U_K, prior.CHURN_U_K_PER_S, prior.STRENGTH_LN_U,
        prior.READING_U_K, min(max(sensor.surface_ratio_u, 1e-4), _MOST_RATIO_U),
        min(max(sensor.lag_u_s / lag_s, 0.01), 0.6),
        min(max(sensor.sensor_u_C, 0.01), _MOST_SENSOR_U_K),
    )  # fmt: skip


class WarmUpFilter:
    """State and covariance of one hypothesis about the warm-up.

    ``running`` tells whether the engine heats; ``x`` and ``p`` may be read, not written.
    """

    __slots__ = ("cooling", "drift", "let_go_s", "log_likelihood", "p", "running", "t", "x")

    def __init__(self, sensor: PanSensor, t: float, pan_C: float, air_C: float) -> None:
        lag_s = max(sensor.lag_s, _LEAST_LAG_S)
        self.t = t
        self.running = self.cooling = False
        self.log_likelihood = 0.0
        self.drift = 0.0
        self.let_go_s = -math.inf  # when the skin last left the fluid as only another pan's does
        ratio = max(sensor.surface_ratio, _LEAST_RATIO)
        fluid_C = air_C + (pan_C - air_C) / ratio
        self.x = [
            fluid_C, fluid_C, -math.log(prior.FLUID_TIME_S), -math.log(prior.ENGINE_TIME_S),
            prior.ENGINE_FINAL_C, prior.CHURN_K_PER_S, 0.0,
            pan_C, ratio, math.log(lag_s), 0.0,
        ]  # fmt: skip
        u = _prior_u(sensor, lag_s)
        self.p = [[u_i * u_i if i == j else 0.0 for j in range(SIZE)] for i, u_i in enumerate(u)]
        # settled: skin = reading - sensor error, fluid = air + (skin - air) / ratio
        self._depend(SKIN, {SENSOR: -1.0})
        self._depend(FLUID, {SKIN: 1.0 / ratio, RATIO: -(fluid_C - air_C) / ratio})
        both = prior.STRENGTH_ENGINE_CORRELATION * u[LN_PACE] * u[LN_STRENGTH]
        self.p[LN_PACE][LN_STRENGTH] = self.p[LN_STRENGTH][LN_PACE] = both

    def _depend(self, state: int, by: dict[int, float]) -> None:
        """Make ``state`` the sum of its present (independent) part and ``by`` times others."""
        p = self.p
        own = p[state][state]
        row = [sum(g * p[j][i] for j, g in by.items()) for i in range(SIZE)]
        row[state] = own + sum(g * row[j] for j, g in by.items())
        for i in range(SIZE):
            p[state][i] = p[i][state] = row[i]

    def copy(self) -> "WarmUpFilter":
        """Return an independent twin."""
        twin = object.__new__(WarmUpFilter)
        twin.drift, twin.let_go_s = self.drift, self.let_go_s
        twin.t, twin.log_likelihood = self.t, self.log_likelihood
        twin.running, twin.cooling = self.running, self.cooling
        twin.x = self.x[:]
        twin.p = [row[:] for row in self.p]
        return twin

    @property
    def fluid_C(self) -> float:
        """Best estimate of the fluid at ``t``, °C."""
        return self.x[FLUID]

    @property
    def fluid_u_K(self) -> float:
        """Standard uncertainty of it, K."""
        return math.sqrt(max(self.p[FLUID][FLUID], _LEAST_VARIANCE))

    def start(self, air_C: float) -> None:
        """Let the engine heat from now on.

        A cold engine is about as warm as the fluid; one that was stopped has kept its heat.
        """
        x, p = self.x, self.p
        if self.cooling:
            p[ENGINE][ENGINE] += prior.ENGINE_RESTART_U_K**2
        else:
            gap_K = abs(x[FLUID] - air_C)
            u_K = prior.ENGINE_START_U_K + prior.ENGINE_START_PER_K_ABOVE_AIR * gap_K
            x[ENGINE] = x[FLUID]
            p[ENGINE][ENGINE] = u_K * u_K
            self._depend(ENGINE, {FLUID: 1.0})
        self.running, self.cooling = True, False

    def stop(self) -> None:
        """Let the engine stand from now on: the fluid cools."""
        self.cooling = self.cooling or self.running
        self.running = False

    def soak(self, air_C: float) -> None:
        """Use that vehicle and shop were probably at one temperature before the start.

        A fluid clearly warmer than the air speaks against it: then little or nothing is
        learnt, by the odds of "soaked" against "driven today".
        """
        gap_K, u_K = self.fluid_C - air_C, self.fluid_u_K
        soaked = _density(gap_K - prior.SOAK_K, math.hypot(prior.SOAK_U_K, u_K))
        driven = _density(gap_K - prior.DRIVEN_K, math.hypot(prior.DRIVEN_U_K, u_K))
        odds = prior.SOAK_SHARE * soaked
        either = odds + (1.0 - prior.SOAK_SHARE) * driven
        share = odds / either if either > 0.0 else 0.0  # so far off that neither is likely
        if share > _LEAST_SOAK_SHARE:
            self.update_fluid(air_C + prior.SOAK_K, prior.SOAK_U_K / share)

    def rate_K_per_s(self, air_C: float) -> float:
        """Present rate of the fluid, K/s."""
        if self.running:
            return heat_rate_K_per_s(self.x, air_C)
        return (air_C - self.x[FLUID]) / prior.COOLING_TIME_S if self.cooling else 0.0

    def predict(self, t: float, air_C: float) -> None:
        """Carry state and covariance on to ``t`` (s); never back."""
        h = t - self.t
        if h <= 0.0:
            return
        self.t = t
        x, p = self.x, self.p
        lag_s, ratio, fluid_C = math.exp(x[LN_LAG]), x[RATIO], x[FLUID]
        keep = math.exp(-h / lag_s)
        take = 1.0 - keep
        by = (keep, take * ratio, take * (fluid_C - air_C),
              (x[SKIN] - air_C - ratio * (fluid_C - air_C)) * keep * h / lag_s)  # fmt: skip
        skin = [
            by[0] * a + by[1] * b + by[2] * c + by[3] * d
            for a, b, c, d in zip(p[SKIN], p[FLUID], p[RATIO], p[LN_LAG], strict=True)
        ]
        variance = (
            by[0] * skin[SKIN] + by[1] * skin[FLUID] + by[2] * skin[RATIO] + by[3] * skin[LN_LAG]
        )
        if self.running:
            step = carry_heat(x, p, h, air_C)
            skin[FLUID], skin[ENGINE] = by_fluid_step(step, skin), by_engine_step(step, skin)
        else:
            p[FLUID][FLUID] += prior.IDLE_WALK_K_PER_SQRT_S**2 * h
            if self.cooling:
                keep_warm = math.exp(-h / prior.COOLING_TIME_S)
                x[FLUID] = air_C + keep_warm * (x[FLUID] - air_C)
                x[ENGINE] = air_C + keep_warm * (x[ENGINE] - air_C)
        skin[SKIN] = variance + prior.SKIN_WALK_K_PER_SQRT_S**2 * h
        p[SKIN] = skin
        for i, row in enumerate(p):
            row[SKIN] = skin[i]
        p[RATIO][RATIO] += prior.RATIO_WALK_PER_SQRT_S**2 * h
        middle_C = 0.5 * (fluid_C + x[FLUID])
        x[SKIN] = keep * x[SKIN] + take * (air_C + ratio * (middle_C - air_C))

    def update_pan(self, pan_C: float, u_K: float) -> None:
        """Take in a mean pan reading (°C) with its standard uncertainty (K)."""
        column = [a + b for a, b in zip(self.p[SKIN], self.p[SENSOR], strict=True)]
        innovation = pan_C - self.x[SKIN] - self.x[SENSOR]
        variance = column[SKIN] + column[SENSOR]
        if self.running:
            self._watch_for_kick(innovation / math.sqrt(variance + u_K * u_K))
        elif innovation**2 > _STIR_SIGMA**2 * (variance + u_K * u_K):
            # other fluid mixes in, or the sump runs empty: let go of the fluid, not of the ratio
            self.p[FLUID][FLUID] += prior.STIR_U_K**2
            sure_K = max(_DOUBT_SIGMA * math.sqrt(variance + u_K * u_K), _LEAST_LET_GO_K)
            if abs(innovation) > sure_K and not self.cooling:
                column, variance = self._let_go(innovation)
        kept = None if self.running else [(self.x[i], self.p[i][RATIO:]) for i in _CONSTANTS]
        self._update(column, variance, innovation, u_K)
        if kept:
            for i, (value, row) in zip(_CONSTANTS, kept, strict=True):
                self.x[i] = value
                self.p[i][RATIO:] = row

    def _let_go(self, innovation: float) -> tuple[Row, float]:
        """Let the fluid be anything that explains the skin's course: the clamp was just put on.

        Returns:
            What the reading's covariance with the states and its variance are then.
        """
        self.let_go_s = self.t
        took = (1.0 - math.exp(-prior.BLOCK_S / math.exp(self.x[LN_LAG]))) * self.x[RATIO]
        self.p[FLUID][FLUID] += (innovation / took) ** 2
        self.p[SKIN][SKIN] += innovation**2
        column = [a + b for a, b in zip(self.p[SKIN], self.p[SENSOR], strict=True)]
        return column, column[SKIN] + column[SENSOR]

    def _watch_for_kick(self, z: float) -> None:
        """Let go of the heating strength when the innovations keep to one side."""
        self.drift = _KICK_KEEP * self.drift + math.sqrt(1.0 - _KICK_KEEP**2) * z
        if abs(self.drift) > _KICK_SIGMA:
            self.p[LN_STRENGTH][LN_STRENGTH] += prior.KICK_LN_U**2
            self.drift = 0.0

    def update_fluid(self, fluid_C: float, u_K: float) -> None:
        """Take in a reading of the fluid itself (°C) with its standard uncertainty (K)."""
        column = self.p[FLUID][:]
        self._update(column, column[FLUID], fluid_C - self.x[FLUID], u_K)

    def _update(self, column: Row, variance: float, innovation: float, u_K: float) -> None:
        total = variance + u_K * u_K
        square = innovation * innovation / total
        if square > _DOUBT_SIGMA**2:
            total *= square / _DOUBT_SIGMA**2
            square = _DOUBT_SIGMA**2
        self.log_likelihood -= 0.5 * (square + math.log(total) + _LN_2PI)
        x, p = self.x, self.p
        for i in range(SIZE):
            gain = column[i] / total
            x[i] += gain * innovation
            p[i] = [a - gain * c for a, c in zip(p[i], column, strict=True)]
        for i, (low, high) in _LIMITS.items():
            x[i] = min(max(x[i], low), high)
