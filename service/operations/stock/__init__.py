"""Lots and what they stand in: registers, receiving, fitness, what is used first."""
