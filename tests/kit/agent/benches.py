"""A made-up bench and order, as records and as files."""

from pathlib import Path

from drainscale.agent.bench_file import Bench, BenchNames, Order, SpoolPlace
from drainscale.quantities.job import (
    Container,
    FluidSheet,
    PanSensor,
    ProcedureLimits,
    ScaleSettings,
)

# 20 kg, 2 mV/V: 214 748 counts a kg (check-values: counts at full load of a 2 mV/V cell, from the
# data sheet's full scale of +-0.5 x supply / gain); zero at 100 000 counts
COUNTS_PER_KG = 4_294_967.296 / 20.0
ZERO = 100_000.0
SCALE = ScaleSettings(
    capacity_kg=20.0,
    rate_Hz=10.0,
    calibration_kg=(0.0, 5.0, 10.0),
    calibration_counts=(ZERO, ZERO + 5.0 * COUNTS_PER_KG, ZERO + 10.0 * COUNTS_PER_KG),
    calibration_u_kg=0.0003,
    repeatability_u_kg=0.0005,
)


def bench_of(spool: Path, *, has_supply: bool = False) -> Bench:
    return Bench(
        BenchNames("north", "bay-1"),
        SCALE,
        PanSensor(0.9, 0.03, 20.0, 5.0, 1.0),
        Container(12.0),
        SpoolPlace(str(spool)),
        SCALE if has_supply else None,
    )


def order() -> Order:
    return Order(
        ProcedureLimits("standpipe", (35.0, 45.0), 0.5, 120.0, 20.0),
        FluidSheet(845.0, 15.0, 2.0, 30.0, 6.0),
    )


BENCH_TOML = """\
[bench]
site = "north"
bench = "bay-1"

[scale]
capacity_kg = 20.0
rate_Hz = 10
calibration_kg = [0.0, 5.0]
calibration_counts = [100000, 1173741]
calibration_u_kg = 0.0003
repeatability_u_kg = 0.0005

[pan_sensor]
surface_ratio = 0.9
surface_ratio_u = 0.03
lag_s = 20
lag_u_s = 5
sensor_u_C = 1.0

[container]
capacity_L = 12.0

[spool]
folder = "/var/lib/drainscale/spool"
"""

ORDER_TOML = """\
[procedure]
level_method = "standpipe"
window_C = [35, 45]
allowance_L = 0.5
close_flow_mL_per_min = 120
drip_flow_mL_per_min = 20

[fluid]
density_kg_per_m3 = 845
density_C = 15
density_u_kg_per_m3 = 2
"""
