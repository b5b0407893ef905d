"""The words of the record, in one place. Pure."""

TITLE = "Transmission fluid service record"

VERDICTS = {
    "closed-in-window": "Level set: the spill was a thin stream while the fluid was in its window.",
    "overran": "Level NOT set: the fluid left its window before the spill was a thin stream.",
    "no-spill": "Level NOT set: the plug was open in the window and nothing ran out.",
    "not-reached": ("Level NOT set: the window was never entered, or the plug was shut below it."),
    "not-measured": "Whether the level is set was not measured.",
}
NO_RESULT = "There is no result: nothing here says whether the level is set."
UNKNOWN_VERDICT = "The kit gave a verdict that this server does not know"

NET = "As far as it was weighed, the unit now holds {size} {more} fluid than before the service."
NET_SAME = (
    "As far as it was weighed, the unit now holds as much fluid as before the service, within U."
)
NET_UNKNOWN = "Whether more or less fluid is in the unit than before was not measured."
NO_ATTEMPT = "No attempt: no step of the job was a level check."
NO_STEPS = "Attempts are not known before there is a result."

STATES = {
    "planned": "planned, not begun",
    "open": "STILL OPEN: figures may change",
    "done": "done",
    "aborted": "ABORTED: the service was given up before its end",
    "taken-back": "taken back before it began",
}
FINALITIES = {
    "final": "",
    "provisional": "Provisional: the kit has not told its final result yet.",
    "none": "The server has no result of this job that it can read.",
}

ATTEMPT_EVENTS = {
    "open-plug": "cue to open",
    "close-plug": "thin stream",
    "no-spill": "nothing ran",
    "will-overrun": "would not become thin in time",
    "window-closing": "window closing",
}

PAN_FILTER = {
    "stays-on": "Pan and filter stayed on.",
    "weighed-apart": "Oil in pan and filter was weighed apart; it is not in the drained figure.",
    "allowance-raised": ("Oil in pan and filter was not weighed; the allowance was raised for it."),
    "not-weighed": "Oil in pan and filter was not weighed.",
}
PAN_FILTER_UNKNOWN = "Nobody said whether pan or filter came off; oil in them was not weighed."
DRIPS = "Oil beside the container, on rags and in the hoses is not weighed."

LEVEL_METHODS = {"standpipe": "standpipe in the pan", "check-plug": "check plug"}
FILL_VIA = {"fill-plug": "fill plug", "check-plug": "check hole"}
DENSITY_ORIGINS = {"sheet": "from the product sheet", "measured": "measured by the shop"}
BY = {"foot-switch": "foot switch", "board": "board", "kit": "kit"}
SENSORS = {"scale": "drain scale", "supply": "supply scale", "pan": "pan sensor"}

# Design budget of the kit as its documents describe it (docs/explanations/error-budget.md, kits A
# and B): calculated, not measured; the same figures stand in the README.
ERROR_STATEMENT = (
    "U is the expanded uncertainty, k = 2 (about 95 %), formed by the kit from the uncertainties "
    "entered for this bench, this fluid and this job. The design error budget of a kit with a "
    "20 kg cell of class C3 calibrated with M1 weights is some 14 mL at 2 L, 25 mL at 4 L and "
    "36 mL at 6 L with a density from the product sheet; 9, 15 and 20 mL with a density measured "
    "on the bench. Those figures hold drift, touch and tilt as well. Where U above is smaller, "
    "trust it only if this bench was shown to be that good. For net the error of the density "
    "cancels. U assumes that old and new fluid have the same density."
)
NOT_FOR_TRADE = (
    "Not for trade: drainscale is not a verified weighing instrument. Do not price fluid by these "
    "figures."
)
DEFER = (
    "The vehicle's service information, local codes and licensed practice go before everything "
    "said here. This record says what was measured and what people said they did; it does not say "
    "that the vehicle is roadworthy."
)
NEW_SHARE = (
    "drained over total capacity as typed in; one drain-and-fill, the fluid taken for well mixed "
    "(common practice, no source)"
)
FLOW_CAPTION = (
    "Flow from the stored samples: slope of the least-squares line through 10 s (20 s below "
    "100 mL/min, 60 s below 20 mL/min) of 2 s medians of the scale, at the fluid's density at "
    "20 °C. Numbers: steps. Letters: cues (R get ready, O open, S shut, A add, ! stop, F fault)."
)
TEMPERATURE_CAPTION = (
    "Estimated fluid temperature with U, as the kit had it then; the pan sensor reads a skin, not "
    "the fluid."
)
FORECAST_CAPTION = (
    "When the fluid was expected to enter and to leave the window, as it stood at each moment, "
    "with 90 % intervals."
)
CAPTIONS = {
    "Flow over the job": FLOW_CAPTION,
    "Fluid temperature": TEMPERATURE_CAPTION,
    "Forecasts as they stood": FORECAST_CAPTION,
}  # by the title of the plot
CLOCK_NOT_SET = (
    "The kit's clock had not been set: dates and times of day are those of the server when it "
    "heard of the job. Durations are right."
)
HASH_WORDS = (
    "SHA-256 over the stored messages of the job. A copy of the store gives the same one, or it is "
    "not the same data."
)
SAMPLES_DROPPED = (
    "The samples of this job were dropped on {date}: this server keeps them for a time only. The "
    "figures, and the curves taken from the samples before, are as they were; a recording to "
    "replay can't be made any more."
)
HASH_WORDS_DROPPED = (
    "SHA-256 over the messages of the job as they were before its samples were dropped. A copy of "
    "the store from before gives the same one, or it is not the same data."
)
MISSING_LETTERS = "Letters that this document's font lacks, shown by their Unicode numbers: "
