"""What is believed about a warm-up before a single reading has been seen.

Two first-order stages stand for the vehicle: the engine rises towards its thermostat, and the
fluid follows the engine while the pump churns it and the air cools it. The figures are wide
on purpose and hold for passenger cars and light vans; common practice and physics, no
source. A job's `PanSensor` brings its own figures for ratio, lag and sensor error.
"""

from typing import Final

# the engine's coolant: thermostats open at 82 to 95 °C; idling may end below or a fan above
ENGINE_FINAL_C: Final = 96.0
ENGINE_FINAL_U_K: Final = 8.0
ENGINE_TIME_S: Final = 750.0
ENGINE_TIME_LN_U: Final = 0.40
# fluid behind the engine: heat exchanger, housing and converter
FLUID_TIME_S: Final = 650.0
FLUID_TIME_LN_U: Final = 0.40
CHURN_K_PER_S: Final = 0.010  # pump and converter against the brake or in P
CHURN_U_K_PER_S: Final = 0.006
# loss of the pan to still air: oil mass x 2 kJ/(kg K) over 10 W/(m2 K) on the housing
LOSS_TIME_S: Final = 2800.0
COOLING_TIME_S: Final = 4000.0  # engine off, under a shop's still air
# how strongly this vehicle heats as a whole, all of the above together
STRENGTH_LN_U: Final = 0.30
# a slow vehicle is slow in both stages (big masses, low idle): share of correlation
STRENGTH_ENGINE_CORRELATION: Final = 0.5

# changes on the way: fan kicks, gear changes, idle speed; random walk of ln(strength)
STRENGTH_WALK_PER_SQRT_S: Final = 0.008
KICK_LN_U: Final = 0.3  # and what a sudden one may change, once it shows
FLUID_WALK_K_PER_SQRT_S: Final = 0.005
# draughts and the fan change how the skin takes part: random walk of the ratio
RATIO_WALK_PER_SQRT_S: Final = 0.0003
SKIN_WALK_K_PER_SQRT_S: Final = 0.004

# before the engine runs: draining, new fluid mixing in, sun
IDLE_WALK_K_PER_SQRT_S: Final = 0.01
STIR_U_K: Final = 0.5  # let go of the fluid by this when the skin leaves it while idle
UNSETTLED_U_K: Final = 0.3  # fluid against a settled skin at the first reading
# after a night's soak: fluid above the cold junction, and the share of jobs that are soaked
SOAK_K: Final = 0.4
SOAK_U_K: Final = 0.7
SOAK_SHARE: Final = 0.85
DRIVEN_K: Final = 10.0
DRIVEN_U_K: Final = 10.0
SOAK_AFTER_S: Final = 30.0
# engine against fluid at the start: the same soak, but refilled with fluid from the shelf
ENGINE_START_U_K: Final = 1.5
ENGINE_RESTART_U_K: Final = 6.0  # after a stop: how fast it cooled is not known
ENGINE_START_PER_K_ABOVE_AIR: Final = 0.3

# one reading of the converter: 0.25 K steps (0.072 K) and its noise
READING_U_K: Final = 0.17
# what does not average out within a block: steps that stand still, model error
BLOCK_FLOOR_U_K: Final = 0.04
BLOCK_S: Final = 3.0
REFERENCE_U_K: Final = 1.0
