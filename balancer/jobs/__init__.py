"""What the command line and the page both do: a session line by line, a car weighed, a plan.

Imports `report` and what is below it, and nothing of a terminal or a browser.
"""
