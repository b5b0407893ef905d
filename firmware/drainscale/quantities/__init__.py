"""Numbers with unit and uncertainty, and the types that carry them between rooms."""
