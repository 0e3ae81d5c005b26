"""The page for the garage wall.

Imports results, `report` and `report.pictures`.
"""
