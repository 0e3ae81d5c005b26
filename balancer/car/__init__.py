"""The car in SI: what it is, how it stands on its four wheels, and how it moves.

Imports nothing of the package; all rooms take its `conventions` and `errors`.
"""
