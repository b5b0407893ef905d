"""The spill over a standpipe's rim or a check hole's edge: how much still stands above it.

Fluid of volume ``v`` above the rim flows off as ``rim.py`` tells, as over a weir until a pipe
limits it; what warms in the sump adds ``e``:

    dv/dt = e - q(v)

At the start of a spill it cannot be known whether pipe or rim limits it, so a bank of extended
Kalman filters runs, each from another guess of v and c; what they predict and the scale then
says weighs them against each other. The rim's law makes the tail and its floor: a warming
sump never runs dry.

Source: Gaussian sum filter: Sorenson and Alspach, Automatica 7 (1971) 465.
"""

from dataclasses import dataclass
from math import exp, log, sqrt

from drainscale.estimation.rim import (
    STANDPIPE,
    Rim,
    flow_and_slopes,
    flow_off,
    head_power,
    pipe_for,
)

LN_C_SD = 1.2  # about the rim's mean
LN_C_STEPS = (-1.2, 0.0, 1.2)  # in units of the above
EXCESS_STEPS_ML = (30.0, 75.0, 160.0, 320.0, 600.0, 1000.0, 1600.0)
MIN_WEIGHT = 1e-5
HORIZON_S = 3600.0

# process noise, one standard deviation after a second
WALK_G = 0.005  # drops
WALK_FLOW_RELATIVE = 0.03  # ripples on the rim, and what the law leaves out
WALK_LN_V = 0.002
WALK_LN_C = 0.02
WALK_LN_P = 0.003
# waves on the fluid make the stream swell and fade over some seconds: the reading swings
# about the mean course, the more the stronger the stream; the swing is learnt while it runs
RIPPLE_START_G = 0.2
RIPPLE_MEMORY = 0.02
RIPPLE_BINS = 2.0  # how many half-second readings swing together
RIPPLE_MAX_S = 0.5  # as seconds of flow

N = 5
G, LV, LC, LP, E = range(N)  # grams run out, ln mL above the rim, ln c, ln p, mL/s of expansion
# no transmission lies outside; a reading that is no fluid must not carry a guess away
LEAST_ML = 1e-3
BOUNDS = ((LV, log(LEAST_ML), 11.0), (LC, -15.0, 3.0), (LP, -9.0, 8.0), (E, 0.0, 20.0))
MOST_VARIANCE = (1e6, 9.0, 9.0, 9.0, 100.0)


@dataclass(frozen=True, slots=True)
class Inflow:
    """What the warming sump adds to the spill, mL/s, with its standard uncertainty."""

    mL_per_s: float
    u_mL_per_s: float


class Guess:
    """One member of the bank: mean and covariance of its five states, and its weight.

    The volume is carried as its logarithm: flow is nearly a power of it, so the filter's
    linear step stays good over decades and no update can make it negative.
    """

    def __init__(
        self, mean: list[float], variances: list[float], weight: float, rim: Rim = STANDPIPE
    ) -> None:
        self.x = mean
        self.rim = rim
        self.P = [[variances[i] if i == j else 0.0 for j in range(N)] for i in range(N)]
        self.weight = weight

    @property
    def v_mL(self) -> float:
        """Volume above the rim."""
        return exp(self.x[LV])

    def predict(self, dt: float, g_per_mL: float) -> None:
        """Move the state on by ``dt`` seconds (in small steps where the spill is quick)."""
        x = self.x
        rate = flow_off(self.rim, x[LV], x[LC], x[LP]) / exp(x[LV])
        steps = min(1 + int(dt * rate * 5.0), 20)
        for _ in range(steps):
            self._step(dt / steps, g_per_mL)

    def _step(self, dt: float, g_per_mL: float) -> None:
        x, P = self.x, self.P
        q, by_v, by_c, by_p = flow_and_slopes(self.rim, x[LV], x[LC], x[LP])
        v = exp(x[LV])
        drift = (x[E] - q) / v
        # F = I + the two rows that move
        rg = (1.0, g_per_mL * by_v * dt, g_per_mL * by_c * dt, g_per_mL * by_p * dt, 0.0)
        k = dt / v
        stays = max(1.0 - by_v * k - drift * dt, -1.0)
        rv = (0.0, min(stays, 2.0), -by_c * k, -by_p * k, k)
        x[G] += q * g_per_mL * dt
        x[LV] += max(min(drift * dt, 0.5), -0.5)
        new_g = [sum(rg[i] * P[i][j] for i in range(N)) for j in range(N)]
        new_v = [sum(rv[i] * P[i][j] for i in range(N)) for j in range(N)]
        gg = sum(new_g[i] * rg[i] for i in range(N))
        gv = sum(new_g[i] * rv[i] for i in range(N))
        vv = sum(new_v[i] * rv[i] for i in range(N))
        for j in (LC, LP, E):
            P[G][j] = P[j][G] = new_g[j]
            P[LV][j] = P[j][LV] = new_v[j]
        P[G][G] = gg + (WALK_G**2 + (WALK_FLOW_RELATIVE * q * g_per_mL) ** 2) * dt
        P[G][LV] = P[LV][G] = gv
        P[LV][LV] = vv + WALK_LN_V**2 * dt
        P[LC][LC] += WALK_LN_C**2 * dt
        P[LP][LP] += WALK_LN_P**2 * dt
        self._keep_in_bounds()

    def _keep_in_bounds(self) -> None:
        """Hold state and covariance where they mean something."""
        x, P = self.x, self.P
        for i, low, high in BOUNDS:
            x[i] = min(max(x[i], low), high)
        for i, most in enumerate(MOST_VARIANCE):
            if not 0.0 < P[i][i] < most:
                # rounding has eaten it up, or nothing is known: begin anew, apart from the rest
                for j in range(N):
                    P[i][j] = P[j][i] = 0.0
                P[i][i] = most

    def update(self, g: float, sigma_g: float) -> float:
        """Take a reading of the grams run out; weigh the guess by how well it fits.

        Returns:
            The square of what the prediction missed, g2.
        """
        x, P = self.x, self.P
        s = P[G][G] + sigma_g**2
        miss = g - x[G]
        column = [P[i][G] for i in range(N)]
        gain = [c / s for c in column]
        # a lone outlier must not kill a guess: beyond 4 sigma it counts as 4
        z2 = min(miss * miss / s, 16.0)
        self.weight *= exp(-0.5 * z2) / sqrt(s)
        x[G] += gain[G] * miss
        for i in (LV, LC, LP):
            x[i] += max(min(gain[i] * miss, 0.7), -0.7)
        x[E] += gain[E] * miss
        for i in range(N):
            for j in range(N):
                P[i][j] -= gain[i] * column[j]
        self._keep_in_bounds()
        return miss * miss

    def forget_level(self) -> None:
        """The reading has jumped: its level says nothing, its further course does."""
        for j in range(N):
            self.P[G][j] = self.P[j][G] = 0.0
        self.P[G][G] = 1e4

    def flow(self) -> tuple[float, float]:
        """Flow, mL/s, and its standard uncertainty."""
        x, P = self.x, self.P
        q, *d = flow_and_slopes(self.rim, x[LV], x[LC], x[LP])
        var = sum(d[i] * d[j] * P[i + 1][j + 1] for i in range(3) for j in range(3))
        return q, sqrt(max(var, 0.0))

    def decline_mL_per_s2(self) -> float:
        """How fast the flow falls now."""
        x = self.x
        q, by_v, _, _ = flow_and_slopes(self.rim, x[LV], x[LC], x[LP])
        return by_v * (q - x[E]) / exp(x[LV])

    def finish_s(self, limit_mL_per_s: float, ln_v: float, ln_c: float, e: float) -> float | None:
        """Seconds until the flow falls below the limit, from a changed state; None if never."""
        rim, ln_p, t, v = self.rim, self.x[LP], 0.0, exp(ln_v)
        q = flow_off(rim, ln_v, ln_c, ln_p)
        if q <= limit_mL_per_s:
            return 0.0
        if e >= 0.98 * limit_mL_per_s:
            return None
        while t < HORIZON_S:
            # a twenty-fifth of the volume a step, the flow at its middle
            dt = 0.04 * v / max(q - e, 1e-6)
            middle = flow_off(rim, log(max(v - 0.5 * dt * (q - e), LEAST_ML)), ln_c, ln_p)
            v = v + dt * (e - middle)
            if v <= LEAST_ML:  # it is gone before it can run thin
                return t + dt
            q_new = flow_off(rim, log(v), ln_c, ln_p)
            if q_new <= limit_mL_per_s:
                return t + dt * (q - limit_mL_per_s) / max(q - q_new, 1e-9)
            t, q = t + dt, q_new
        return None


class SpillModel:
    """The bank of guesses for one spill.

    Args:
        t: When the flow started, s.
        flow_mL_per_s: First estimate of the flow, with ``u_mL_per_s``.
        g_per_mL: Density of the spilling fluid.
        expected_mL: What is expected to stand above the rim, with ``u_expected_mL``, from what
            was drained and added.
        inflow: What the warming adds.
        rim: What it runs over.
    """

    def __init__(
        self, t: float, flow_mL_per_s: float, u_mL_per_s: float, g_per_mL: float,
        expected_mL: float, u_expected_mL: float, inflow: Inflow, rim: Rim = STANDPIPE,
    ) -> None:  # fmt: skip
        self.t = t
        self._g_per_mL = g_per_mL
        self._ripple2 = RIPPLE_START_G**2
        q = max(flow_mL_per_s, 0.05)
        u_ln_q = min(u_mL_per_s / q + 0.05, 0.5)
        self.guesses: list[Guess] = []
        for v in EXCESS_STEPS_ML:
            prior_v = exp(-0.5 * ((v - expected_mL) / u_expected_mL) ** 2)
            for step in LN_C_STEPS:
                guess = _first_guess(rim, v, step, q, u_ln_q, inflow)
                if guess is not None:
                    guess.weight *= prior_v
                    self.guesses.append(guess)
        # however unlikely before, the rim alone may limit the flow
        for step in LN_C_STEPS:
            self.guesses.append(_rim_guess(rim, step, q, u_ln_q, inflow))
        self._normalise()

    def reading(self, t: float, g: float, sigma_g: float, *, jumped: bool = False) -> None:
        """Take the grams run out since the start, read at ``t``."""
        dt = max(t - self.t, 0.0)
        self.t = max(t, self.t)
        sigma_all = sqrt(sigma_g**2 + RIPPLE_BINS * self._ripple2)
        seen = 0.0
        for guess in self.guesses:
            if dt > 0.0:
                guess.predict(dt, self._g_per_mL)
            if jumped:
                guess.forget_level()
            seen += guess.weight * guess.update(g, sigma_all)
        self._normalise()
        if not jumped:
            self._learn_ripple(seen, sigma_g)

    def _learn_ripple(self, miss2: float, sigma_g: float) -> None:
        most = (RIPPLE_MAX_S * self.flow_mL_per_s(self.t)[0] * self._g_per_mL) ** 2 + 0.05**2
        target = min(max(miss2 - sigma_g**2, 0.0), most)
        self._ripple2 += RIPPLE_MEMORY * (target - self._ripple2)

    def inflow(self, inflow: Inflow) -> None:
        """Renew what is known of the expansion (the fluid warms faster or slower now)."""
        for guess in self.guesses:
            shift = inflow.mL_per_s - guess.x[E]
            guess.x[E] += 0.05 * shift

    def _normalise(self) -> None:
        total = sum(guess.weight for guess in self.guesses)
        if not total > 0.0:
            for guess in self.guesses:
                guess.weight = 1.0 / len(self.guesses)
            return
        kept = [guess for guess in self.guesses if guess.weight > MIN_WEIGHT * total]
        total = sum(guess.weight for guess in kept)
        for guess in kept:
            guess.weight /= total
        self.guesses = kept

    def flow_mL_per_s(self, t: float) -> tuple[float, float]:
        """Flow at ``t`` (not before the last reading), with its standard uncertainty."""
        mean = second = 0.0
        for guess in self.guesses:
            q, u = guess.flow()
            q = max(q - (t - self.t) * guess.decline_mL_per_s2(), 0.0)
            mean += guess.weight * q
            second += guess.weight * (q * q + u * u)
        return mean, sqrt(max(second - mean * mean, 0.0))

    def decline_mL_per_s2(self) -> float:
        """How fast the flow falls at the last reading."""
        return sum(guess.weight * guess.decline_mL_per_s2() for guess in self.guesses)

    def excess_mL(self) -> tuple[float, float]:
        """Volume above the rim with its standard uncertainty."""
        mean = sum(g.weight * g.v_mL for g in self.guesses)
        second = sum(g.weight * g.v_mL**2 * (1.0 + g.P[LV][LV]) for g in self.guesses)
        return mean, sqrt(max(second - mean * mean, 0.0))

    def finishes(self, limit_mL_per_s: float) -> list[tuple[float, float | None]]:
        """When the flow falls below a limit: pairs of probability and seconds from now.

        Each guess is spread over five points: its mean, and one and a half standard
        deviations either way in volume and in the rim's law, what correlates with them moved
        along.
        """
        out: list[tuple[float, float | None]] = []
        for guess in self.guesses:
            if guess.weight < 0.003:
                continue
            out += [
                (guess.weight * w, guess.finish_s(limit_mL_per_s, v, c, e))
                for w, v, c, e in _spread(guess)
            ]
        total = sum(w for w, _ in out)
        return [(w / total, s) for w, s in out]


def _first_guess(
    rim: Rim, v: float, step: float, q: float, u_ln_q: float, inflow: Inflow
) -> Guess | None:
    """A guess in which pipe and rim together give the flow seen; None where the rim cannot."""
    ln_c, ln_v = rim.ln_c_mean + step * LN_C_SD, log(v)
    ln_p = pipe_for(rim, q, ln_v, ln_c)
    if ln_p is None:
        return None
    mean = [0.0, ln_v, ln_c, ln_p, inflow.mL_per_s]
    variances = [0.2**2, 0.3**2, 0.6**2, u_ln_q**2, inflow.u_mL_per_s**2]
    return Guess(mean, variances, exp(-0.5 * step**2), rim)


def _rim_guess(rim: Rim, step: float, q: float, u_ln_q: float, inflow: Inflow) -> Guess:
    """A guess in which the rim alone limits the flow and the pipe is wide."""
    ln_c = rim.ln_c_mean + step * LN_C_SD
    ln_v = (log(q) - ln_c) / rim.power
    mean = [0.0, ln_v, ln_c, log(q) + 2.5 - head_power(rim, ln_v, ln_c), inflow.mL_per_s]
    variances = [0.2**2, u_ln_q**2, 0.6**2, 1.0, inflow.u_mL_per_s**2]
    return Guess(mean, variances, 0.1 * exp(-0.5 * step**2), rim)


def _spread(guess: Guess) -> list[tuple[float, float, float, float]]:
    """Weight, ln v, ln c and e of five points that carry the guess's mean and spread."""
    x, P = guess.x, guess.P
    v, c, e = x[LV], x[LC], max(x[E], 0.0)
    points = [(0.5, v, c, e)]
    # one direction along v with what goes with it, the other along what of ln c is left
    uv = sqrt(max(P[LV][LV], 1e-12))
    cv, ev = P[LC][LV] / uv, P[E][LV] / uv
    rest = sqrt(max(P[LC][LC] - cv * cv, 0.0))
    for sign in (2.0, -2.0):
        points.append((0.125, v + sign * uv, c + sign * cv, max(e + sign * ev, 0.0)))
        points.append((0.125, v, c + sign * rest, e))
    return points
