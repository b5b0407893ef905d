"""The amounts of one job, with what their errors have in common kept in common.

Drained, added and spilled fluid are weighed on the same scale, with the same weights behind it,
taken for the same density in the same air. Whoever adds up their uncertainties as independent
makes ``net`` look three times worse than it is. Here each cause is one variable for the whole
job, and the package ``uncertainties`` carries it through sums and differences.

Linear propagation (JCGM 100:2008, 5.1): every sensitivity is far from turning over within its
uncertainty, and the tests compare with a second implementation and with a simulation.
"""

from dataclasses import dataclass
from functools import reduce
from operator import add

from drainscale.errors import QuantityError
from drainscale.quantities.buoyancy import buoyancy_factor
from drainscale.quantities.calibration import Calibration
from drainscale.quantities.density import REPORT_C, DensityModel
from drainscale.quantities.measured import Measured, Quantity, measured, variable
from drainscale.quantities.units import ML_PER_L
from drainscale.quantities.volume import REFERENCE_AIR, Air

TYPED_IN_U_L = 0.05  # standard uncertainty of litres that a person read and typed in


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount of fluid: true mass and both volumes, with all their common causes.

    Amounts of one job may be added and subtracted; those of different jobs share nothing.
    """

    _mass_kg: Quantity
    _volume_L: Quantity
    _volume_20C_L: Quantity

    def __add__(self, other: "Amount") -> "Amount":
        return Amount(
            self._mass_kg + other._mass_kg,
            self._volume_L + other._volume_L,
            self._volume_20C_L + other._volume_20C_L,
        )

    def __sub__(self, other: "Amount") -> "Amount":
        return Amount(
            self._mass_kg - other._mass_kg,
            self._volume_L - other._volume_L,
            self._volume_20C_L - other._volume_20C_L,
        )

    @property
    def mass_kg(self) -> Measured:
        """True mass, kg."""
        return measured(self._mass_kg)

    @property
    def volume_L(self) -> Measured:
        """Volume at the temperature(s) of the fluid when it ran, L."""
        return measured(self._volume_L)

    @property
    def volume_20C_L(self) -> Measured:
        """Volume at 20 °C, L."""
        return measured(self._volume_20C_L)


class ResultQuantities:
    """Forms the amounts of one job from readings of its scales.

    Args:
        fluid: Density of the fluid; taken for old and new fluid alike.
        scale: The drain scale.
        supply: A second scale under the supply jug, with weights of its own.
        air: Density of the air while the job lasts.

    Example:
        >>> from drainscale.quantities.density import FluidDensity
        >>> from drainscale.quantities.job import FluidSheet, ScaleSettings
        >>> cell = ScaleSettings(20.0, 10.0, (0.0, 5.0), (0.0, 1e6), 0.0005, 0.0004)
        >>> oil = FluidDensity(FluidSheet(846.0, 15.0, 1.5))
        >>> q = ResultQuantities(oil, Calibration(cell))
        >>> drained = q.amount(q.reading_kg(4.2) - q.reading_kg(1.1), 22.0, 1.0)
        >>> added = q.amount(q.reading_kg(4.4) - q.reading_kg(0.7), 20.0, 1.0)
        >>> spilled = q.amount(q.reading_kg(1.55) - q.reading_kg(1.1), 39.0, 1.0)
        >>> net = added - spilled - drained
        >>> round(net.volume_20C_L.value, 3), round(net.volume_20C_L.U, 4)
        (0.178, 0.0024)
        >>> round(drained.volume_20C_L.U, 4), drained.volume_20C_L.shares[0].source
        (0.0132, 'density of the fluid')
    """

    def __init__(
        self,
        fluid: DensityModel,
        scale: Calibration,
        supply: Calibration | None = None,
        air: Air = REFERENCE_AIR,
    ) -> None:
        self.fluid = fluid
        self._air = variable(air.kg_per_m3, air.u_kg_per_m3, "air buoyancy")
        self._given = variable(0.0, fluid.u_given_kg_per_m3, "density of the fluid")
        self._expansion = variable(0.0, 1.0, "expansion of the fluid")
        self._thermometer = variable(0.0, 1.0, "fluid temperature")
        self._scale = _ScaleQuantities(scale)
        self._supply = None if supply is None else _ScaleQuantities(supply)

    def reading_kg(
        self, indicated_kg: float, u_kg: float | None = None, *, is_supply: bool = False
    ) -> Quantity:
        """One settled reading of a scale, to be subtracted from another.

        Use the same returned object wherever the same reading is meant (the end of one stage is
        the tare of the next): its repeatability then cancels in the sum.

        Args:
            indicated_kg: Indication by ``Calibration.indicated_kg``.
            u_kg: Standard uncertainty of this reading apart from the weights; by default the
                scale's repeatability.
            is_supply: Whether it is the second scale's.

        Raises:
            QuantityError: ``is_supply`` without a second scale.
        """
        return self._of(is_supply).reading_kg(indicated_kg, u_kg)

    def unweighed_kg(self, indicated_kg: float, u_kg: float) -> Quantity:
        """Fluid that no reading shows: bridged by flow times time, or fallen beside.

        In the scale's terms (conventional mass), to be added to a difference of readings. An
        amount of 0 with an uncertainty widens a result.
        """
        return variable(indicated_kg, u_kg, "unweighed fluid")

    def amount(
        self,
        indicated_kg: Quantity,
        fluid_C: float,
        u_fluid_C: float,
        *,
        own_thermometer: bool = False,
    ) -> Amount:
        """Make an amount of fluid from a difference of readings.

        Args:
            indicated_kg: Sum and difference of ``reading_kg`` and ``unweighed_kg``; or a float.
            fluid_C: Temperature of the fluid when it ran.
            u_fluid_C: Its standard uncertainty, K.
            own_thermometer: The temperature's error has nothing to do with the job's other
                temperatures. By default all have the same cause (the sensor's), each to its
                own extent.
        """
        density = self._density(fluid_C, self._temperature_error(u_fluid_C, own_thermometer))
        factor = buoyancy_factor(self.fluid.density_kg_per_m3(fluid_C), air_kg_per_m3=0.0)
        mass = indicated_kg * factor / (1.0 - self._air / density)
        return Amount(
            mass, mass / density * ML_PER_L, mass / self._density(REPORT_C, 0.0) * ML_PER_L
        )

    def typed_in(self, volume_20C_L: float, u_L: float = TYPED_IN_U_L) -> Amount:
        """An amount that was not weighed but typed in, as litres at 20 °C."""
        volume = variable(volume_20C_L, u_L, "typed in")
        return Amount(volume * self._density(REPORT_C, 0.0) / ML_PER_L, volume, volume)

    def nothing(self) -> Amount:
        """No fluid at all, exactly."""
        return Amount(0.0, 0.0, 0.0)

    def total(self, amounts: list[Amount]) -> Amount:
        """Sum of amounts; nothing for an empty list."""
        return reduce(add, amounts, self.nothing())

    def _of(self, is_supply: bool) -> "_ScaleQuantities":
        if not is_supply:
            return self._scale
        if self._supply is None:
            raise QuantityError("a reading of the supply scale, but the job has none")
        return self._supply

    def _temperature_error(self, u_fluid_C: float, own_thermometer: bool) -> Quantity:
        if own_thermometer:
            return variable(0.0, u_fluid_C, "fluid temperature")
        return u_fluid_C * self._thermometer

    def _density(self, fluid_C: float, temperature_error_K: Quantity) -> Quantity:
        """Density at a temperature, linear in each of its causes."""
        fluid = self.fluid
        nominal = fluid.density_kg_per_m3(fluid_C)
        relative = (
            fluid.relative_u_by_expansion(fluid_C) * self._expansion
            - fluid.expansion_per_K(fluid_C) * temperature_error_K
        )
        return nominal * (1.0 + relative) + fluid.given_sensitivity(fluid_C) * self._given


class _ScaleQuantities:
    """The calibration masses of one scale as variables, and readings that depend on them."""

    def __init__(self, calibration: Calibration) -> None:
        self._calibration = calibration
        self._errors_kg = [variable(0.0, u, "calibration weights") for u in calibration.u_points_kg]

    def reading_kg(self, indicated_kg: float, u_kg: float | None) -> Quantity:
        if u_kg is None:
            u_kg = self._calibration.settings.repeatability_u_kg
        reading = variable(indicated_kg, u_kg, "repeatability")
        shares = self._calibration.weight_sensitivities(indicated_kg)
        for share, error_kg in zip(shares, self._errors_kg, strict=True):
            reading = reading + share * error_kg
        return reading
