"""What the kit shows and sounds, as data."""
