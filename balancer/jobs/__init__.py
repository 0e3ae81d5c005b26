"""What is asked for alike at the command line, on the page and by a program (`door`).

A session line by line, a car weighed, a plan. Imports `report` and what is below it, and nothing
of a terminal or a browser.
"""
