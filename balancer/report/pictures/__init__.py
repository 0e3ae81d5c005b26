"""Results as SVG.

Imports results and `report`; nothing but the command line and the sheet imports it.
"""
