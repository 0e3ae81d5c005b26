"""From the pads to a weigh-in: shares and their uncertainty, other states, other parts,
comparisons.

Imports `car` and what is below it.
"""
