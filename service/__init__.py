"""Potmark: a composites workshop's account of what went into what."""
