"""Inputs by the thousand, made from good ones by small damage, and one judge for all of them.

`python -m tests.fuzz --count 20000 --seed 7` runs a campaign; `--only 7:1234` one input again,
shrunk, with all that it is made of and all that came of it. `inputs` makes them, `running` runs
each in a process of its own, `judging` says what is wrong with what came of it.
"""
