"""Any item whatever: what it is made of, its holds and flags, permissions, trace, journal, documents, labels."""
