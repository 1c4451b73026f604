"""How fast, how high: terminal speed, and the pull-out with a servo that has its limits.

`polar` gives the drag, `speeds` the speeds of a straight dive, `load_factors` what limits a
pull-out, `flight` the equations of motion, `stepping` their integration, `pull_out` and
`least_height` what comes of it, `dives` follows many, `envelope` one for a picture, and `point_mass`
makes a solver of them. Imports errors, units, physics and solvers of linkcalc.
"""
