"""What happened, a line each, and the car as its log knows it.

Imports `files`, `planning` and what is below them.
"""
