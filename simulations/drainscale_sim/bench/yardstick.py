"""What the core's cost is held against: a textbook filter of a general-purpose library."""

import warnings
from time import process_time

WARM_UP = 500


def filter_step_s(steps: int) -> float:
    """Time one predict and update of filterpy's Kalman filter, constant velocity, in s.

    Two states (mass and flow), one reading: the least that one would put in the core's place.
    Processor time, so that others on the machine count little.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own, on import, are not ours to mend
        import numpy as np
        from filterpy.common import Q_discrete_white_noise
        from filterpy.kalman import KalmanFilter
    dt_s = 1.0 / 80.0
    one = KalmanFilter(dim_x=2, dim_z=1)
    one.F = np.array([[1.0, dt_s], [0.0, 1.0]])
    one.H = np.array([[1.0, 0.0]])
    one.P *= 10.0
    one.R *= 1e-8
    one.Q = Q_discrete_white_noise(dim=2, dt=dt_s, var=1e-6)
    for _ in range(WARM_UP):
        one.predict()
        one.update(1.0)
    started_s = process_time()
    for i in range(steps):
        one.predict()
        one.update(1.0 + 1e-5 * i)
    return (process_time() - started_s) / steps
