"""What stands out, what could be the cause, and what is missing."""
