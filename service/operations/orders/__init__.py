"""Orders: what customers want, in whose numbers, and how far each line of it is."""
