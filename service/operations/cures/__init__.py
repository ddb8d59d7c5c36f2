"""Schedules, loggers, and cures with their verdict."""
