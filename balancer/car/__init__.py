"""The car in SI: what it is, how it stands on its four wheels, and how it moves.

Imports `balancer.errors` only.
"""
