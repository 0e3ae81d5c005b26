"""What stands between a command and a terminal: print, wait, hear lines and Ctrl-C.

Imports `errors` and `report.words.tables`, and nothing of a command.
"""
