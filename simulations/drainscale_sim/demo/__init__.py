"""Play a recorded service on the terminal, cue by cue."""
