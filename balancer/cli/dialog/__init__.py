"""A session as a conversation: lines in, answers out, and a log that has it all.

Imports `session`, `log`, `report`, and nothing of a terminal.
"""
