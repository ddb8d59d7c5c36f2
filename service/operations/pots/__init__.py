"""Resin systems, scales, and pots from their start to the cup check."""
