"""How any act is done: the one door for writes, who may, what is refused and how, people and founding."""
