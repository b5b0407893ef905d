"""Units that people at the bench use, into and out of the litres, grams and °C of the kit.

Inside the kit a number carries its unit in its name and is never converted twice. The factors
are exact by definition.
"""

# NIST Special Publication 811, appendix B.8: exact, from 1 in = 25.4 mm and 1 gal = 231 in3
LITRES_PER_US_GALLON = 3.785411784
LITRES_PER_US_QUART = LITRES_PER_US_GALLON / 4.0
LITRES_PER_US_PINT = LITRES_PER_US_GALLON / 8.0
LITRES_PER_US_FLUID_OUNCE = LITRES_PER_US_GALLON / 128.0
# Weights and Measures Act 1985 (United Kingdom): 1 imperial gallon is 4.54609 L
LITRES_PER_IMPERIAL_QUART = 4.54609 / 4.0
# international yard and pound, 1959: exact
KG_PER_POUND = 0.45359237
# pound times standard gravity 9.80665 m/s2 (CGPM 1901) times foot or inch: exact
NEWTON_METRES_PER_POUND_FOOT = 1.3558179483314004
NEWTON_METRES_PER_POUND_INCH = NEWTON_METRES_PER_POUND_FOOT / 12.0

ZERO_C_IN_K = 273.15  # SI brochure, 2.3.1: exact
K_PER_FAHRENHEIT_STEP = 5.0 / 9.0

SECONDS_PER_MINUTE = 60.0
ML_PER_L = 1000.0
G_PER_KG = 1000.0


def litres_to_quarts(volume_L: float) -> float:
    """Litres to US liquid quarts."""
    return volume_L / LITRES_PER_US_QUART


def quarts_to_litres(volume_qt: float) -> float:
    """US liquid quarts to litres."""
    return volume_qt * LITRES_PER_US_QUART


def litres_to_gallons(volume_L: float) -> float:
    """Litres to US gallons."""
    return volume_L / LITRES_PER_US_GALLON


def gallons_to_litres(volume_gal: float) -> float:
    """US gallons to litres."""
    return volume_gal * LITRES_PER_US_GALLON


def celsius_to_fahrenheit(temperature_C: float) -> float:
    """A temperature in °C to °F. For a difference use ``kelvin_to_fahrenheit_steps``."""
    return temperature_C * 1.8 + 32.0


def fahrenheit_to_celsius(temperature_F: float) -> float:
    """A temperature in °F to °C. For a difference use ``fahrenheit_steps_to_kelvin``."""
    return (temperature_F - 32.0) / 1.8


def kelvin_to_fahrenheit_steps(difference_K: float) -> float:
    """A temperature difference (or an uncertainty) in K to °F steps: no offset of 32."""
    return difference_K * 1.8


def fahrenheit_steps_to_kelvin(difference_F: float) -> float:
    """A temperature difference (or an uncertainty) in °F steps to K: no offset of 32."""
    return difference_F / 1.8


def pound_feet_to_newton_metres(torque_lbf_ft: float) -> float:
    """A torque in lbf ft to N m."""
    return torque_lbf_ft * NEWTON_METRES_PER_POUND_FOOT


def newton_metres_to_pound_feet(torque_N_m: float) -> float:
    """A torque in N m to lbf ft."""
    return torque_N_m / NEWTON_METRES_PER_POUND_FOOT


def flow_mL_per_min(flow_g_per_s: float, fluid_kg_per_m3: float) -> float:
    """A mass flow in g/s to a volume flow in mL/min of a fluid of that density.

    1 kg/m3 is 1e-3 g/mL, so the factor is 60 s/min over rho/1000 g/mL.

    Example:
        >>> flow_mL_per_min(0.85, 850.0)
        60.0
    """
    return flow_g_per_s * SECONDS_PER_MINUTE * ML_PER_L / fluid_kg_per_m3


def flow_g_per_s(flow_mL_per_min: float, fluid_kg_per_m3: float) -> float:
    """A volume flow in mL/min to a mass flow in g/s of a fluid of that density."""
    return flow_mL_per_min * fluid_kg_per_m3 / (SECONDS_PER_MINUTE * ML_PER_L)


def volume_L(mass_kg: float, fluid_kg_per_m3: float) -> float:
    """A true mass in kg to a volume in litres of a fluid of that density."""
    return mass_kg / fluid_kg_per_m3 * ML_PER_L


def mass_kg(volume_L: float, fluid_kg_per_m3: float) -> float:
    """A volume in litres to a true mass in kg of a fluid of that density."""
    return volume_L * fluid_kg_per_m3 / ML_PER_L
