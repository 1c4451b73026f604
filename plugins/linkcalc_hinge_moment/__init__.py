"""Hinge-moment solvers: what the air does about a control surface's hinge.

One module for each method (given coefficients, thin aerofoil, plate), beside
the closed forms and the three lines that they share. They are found through
the entry points `linkcalc.hinge_moment`, and import numpy and nothing heavier.
"""
