"""What commands take: words of the command line, and the files they name, to values and faults.

Imports `files` and what is below it, the log where it is asked for, and `terminal`.
"""
