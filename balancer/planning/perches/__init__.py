"""Which perches to turn: goal, exact search, plan, and what stands in the way.

Imports `weighing`, `car` and `planning.solver`.
"""
