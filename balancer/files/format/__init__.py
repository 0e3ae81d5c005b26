"""What the files are made of: keys, kinds of values, validation, and faults in words.

Imports `files.units` and what is below `files`, nothing else of it.
"""
