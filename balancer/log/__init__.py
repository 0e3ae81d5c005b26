"""What happened, a line each, and the car as its log knows it.

Imports `files`, `session` and what is below them.
"""
