"""Where work can hurt: what to be careful of at which step, with its source.

Cautions remind; they do not teach the trade. The vehicle's service information, the makers of the
lift and of the tools, local codes and licensed practice go before anything said here.
"""

from dataclasses import dataclass

from drainscale.procedure.steps import Step

BURN_FROM_C = 60.0
"""Hot liquid of 60 °C scalds skin in about 5 s, of 70 °C in about 1 s. Source: burn-prevention
literature on water, from memory; oil differs. Level checks at 35 to 45 °C lie below it."""

COMMON_PRACTICE = "common practice, no source"

# the fill plug is proven to open in prepare, and the engine idles on into seal and topping up
_OPEN_STEPS = tuple(step for step in Step if step not in (Step.CIRCULATE, Step.WARM, Step.DONE))
_RUNNING_STEPS = (Step.REFILL, Step.CIRCULATE, Step.WARM, Step.LEVEL, Step.SEAL)
_UNDER_STEPS = tuple(step for step in Step if step not in (Step.CIRCULATE, Step.DONE))


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to be careful of."""

    id: str
    text: str
    steps: tuple[Step, ...]
    source: str
    from_C: float | None = None
    """Only for fluid at least this hot, or of unknown temperature; None: always."""

    def applies(self, step: Step, fluid_upper_C: float | None) -> bool:
        """Tell whether it is to be shown."""
        is_hot = self.from_C is None or fluid_upper_C is None or fluid_upper_C >= self.from_C
        return step in self.steps and is_hot


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "lift",
        "Lift on its locks, or stands rated for the vehicle on firm level ground, before anyone "
        "goes under. Follow the lift's own instructions and inspection dates.",
        _UNDER_STEPS,
        "no OSHA standard is specific to vehicle lifts; ANSI/ALI ALOIM is the usual reference "
        "(OSHA interpretation letter, 2014-11-19)",
    ),
    Caution(
        "nobody-under",
        "Nobody under the vehicle while it is shifted through the gears; wheels turn.",
        (Step.CIRCULATE,),
        COMMON_PRACTICE,
    ),
    Caution(
        "eyes",
        "Wear eye protection and oil-proof gloves: fluid comes down on you.",
        _OPEN_STEPS,
        "29 CFR 1910.133(a)(1) on eye protection, as quoted; gloves: " + COMMON_PRACTICE,
    ),
    Caution(
        "burn",
        "Fluid of 60 °C and more burns within seconds: keep out of the stream, let it cool if "
        "the service information allows.",
        _OPEN_STEPS,
        "burn-prevention literature on water, from memory; oil differs",
        from_C=BURN_FROM_C,
    ),
    Caution(
        "hot-parts",
        "Exhaust and pan are hot even where the fluid is not.",
        _UNDER_STEPS,
        COMMON_PRACTICE,
    ),
    Caution(
        "exhaust",
        "Running engine: lead the exhaust outdoors. Carbon monoxide gives no warning.",
        _RUNNING_STEPS,
        "IMC 502.14, as quoted (capture at the tailpipe); limit 50 ppm over 8 h, "
        "29 CFR 1910.1000, as in an OSHA fact sheet",
    ),
    Caution(
        "moving-parts",
        "Keep hands, hair and sleeves away from wheels, shafts, belts and fans.",
        _RUNNING_STEPS,
        COMMON_PRACTICE,
    ),
    Caution(
        "fire",
        "Oil on a hot exhaust burns: no flame, no smoking, extinguisher at hand.",
        _UNDER_STEPS,
        COMMON_PRACTICE,
    ),
    Caution(
        "spilled",
        "Oil on the floor: stop it, contain it, clean it up before going on.",
        (Step.DRAIN, Step.DRAIN_PAN, Step.REFILL, Step.LEVEL),
        "40 CFR 279.22(d)",
    ),
    Caution(
        "waste",
        "Used oil goes into a sound container labelled Used Oil and to a collection point. "
        "Other countries and states have their own rules.",
        (Step.SEAL, Step.DONE),
        "40 CFR 279.22(b) and (c)(1)",
    ),
    Caution(
        "defer",
        "The vehicle's service information, local codes and licensed practice go before what "
        "is shown here.",
        tuple(Step),
        COMMON_PRACTICE,
    ),
)


def cautions_at(step: Step, fluid_upper_C: float | None = None) -> tuple[Caution, ...]:
    """Choose the cautions to show.

    Args:
        step: The present step.
        fluid_upper_C: Upper end of the estimated fluid temperature (estimate plus its U), °C;
            None if it is not known, which counts as hot.

    Example:
        >>> [caution.id for caution in cautions_at(Step.DONE)]
        ['waste', 'defer']
    """
    return tuple(caution for caution in CAUTIONS if caution.applies(step, fluid_upper_C))
