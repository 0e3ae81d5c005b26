"""Weigh, turn, learn, weigh again, stop: the belief in a car and how it grows.

Imports `perches`, `ballast` and what is below them.
"""
