"""Judge replayed recordings against their known truth."""
