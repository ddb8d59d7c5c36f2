"""What there is to know of a part, a pot, a lot, loaded for a report."""
