"""From the pads to a weigh-in, to other states, beside others; and how sure all that is.

Imports `car`.
"""
