"""Many services in closed loop, and what became of them; the command `soak`."""
