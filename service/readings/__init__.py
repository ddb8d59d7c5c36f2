"""A logger's file becomes temperatures over time: a profile per logger, its proposal, and the reading itself."""
