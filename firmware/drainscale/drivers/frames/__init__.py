"""What the converters send, decoded: words in, counts, temperatures and faults out. Pure."""
