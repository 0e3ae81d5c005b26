"""What no single key can tell: keys that contradict each other, readings that no pad shows.

Imports `files.format`, `files.units` and what is below `files`.
"""
