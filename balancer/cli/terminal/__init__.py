"""What stands between a command and a terminal: print, wait, hear lines and Ctrl-C.

Imports `car.errors` and `report.words.tables`, and nothing of a command.
"""
