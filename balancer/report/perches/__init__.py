"""Perch plans told: what to turn, what it does, and what keeps it from more."""
