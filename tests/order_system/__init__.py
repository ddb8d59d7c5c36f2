"""An order system that nobody here wrote, over a line that loses and doubles, against servers that are killed.

`client.py` is its program: a process of its own, which has the client that a generator made of the description, its
key and a memory on disk, and knows nothing else of Potmark. `trouble.py` is the line, `orders.py` what its customers
want, `floor.py` the shop that builds it, `running.py` the whole.

.venv/bin/python -m tests.order_system     500 lines on each engine, some minutes
"""
