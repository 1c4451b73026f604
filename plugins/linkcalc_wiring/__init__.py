"""Supply solvers: what voltage arrives at a servo at the end of its lead.

`conductors` has the resistance of copper and contacts, `levels` the circuit of
a tree, `network` the search for the voltages that satisfy it, and `tree` the
solver, which is found through the entry point `tree` of `linkcalc.supply`.
They import numpy and nothing heavier, and of linkcalc its errors only.
"""
