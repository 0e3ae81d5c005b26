"""What to turn and what to bolt in: planned, and learned from one weigh-in to the next.

Imports `weighing` and `car`.
"""
