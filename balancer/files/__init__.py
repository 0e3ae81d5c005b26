"""Files to values, and what is wrong with them: TOML in, cars, readings and faults out.

Imports `weighing` and `car`.
"""
