"""Papers that are issued: what they are, how they are signed, and how whoever holds one tells it from a false one."""
