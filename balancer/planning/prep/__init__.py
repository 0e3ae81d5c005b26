"""The whole job before an event: ballast and turns for race trim, planned together.

Imports `session`, `perches`, `ballast` and what is below them.
"""
