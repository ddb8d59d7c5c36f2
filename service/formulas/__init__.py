"""Pure calculations: no Flask, no database, no clock, nothing of the project but each other."""
