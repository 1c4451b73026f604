"""Supply solvers: what voltage arrives at a servo at the end of its lead.

`conductors` has the resistance of copper and contacts, `levels` the circuit of
a tree, `newton` and `network` find the voltages that satisfy it, `fields` reads
what was given and `details` tells more of what was found; `tree` is the solver,
which is found through the entry point `tree` of `linkcalc.supply`. Beside it
stand `metals`, `heating` and `battery`, from which fields can be made. They
import numpy and nothing heavier, and of linkcalc its errors and physics only.
"""
