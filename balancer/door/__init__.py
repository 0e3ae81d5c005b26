"""What `import balancer` hands out where the inside would not check, or not print itself.

Imports `report` and what is below it; nothing but `balancer` imports it.
"""
