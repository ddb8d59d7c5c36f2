"""Deliveries under fire: workers that are killed, a receiver that fails, acts that go on meanwhile.

`python -m tests.deliveries` runs it long; tests/cli/test_delivering.py runs it short.
"""
