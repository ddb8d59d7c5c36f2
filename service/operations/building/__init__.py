"""Can it be built: of what, when, in which mould; what is short; what else would have to come first."""
