"""How much ballast and where: goal, rules, program, plan.

Imports `weighing`, `car` and `planning.solver`.
"""
