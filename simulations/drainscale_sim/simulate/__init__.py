"""Services without the kit, by habit, written as recordings with their truth."""
