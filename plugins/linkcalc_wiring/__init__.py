"""Supply solvers: what voltage arrives at a servo at the end of its lead.

`levels` has the circuit of a tree, `newton` and `network` find the voltages that satisfy it, `fields` reads
what was given and `details` tells more of what was found; `tree` is the solver,
which is found through the entry point `tree` of `linkcalc.supply`. Resistance,
heat of wires and batteries, from which fields can be made, are in `linkcalc.physics`. They
import numpy and nothing heavier, and of linkcalc its errors and physics only.
"""
