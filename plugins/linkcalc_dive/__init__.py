"""How fast, how high: drag, terminal speed, and the pull-out with a servo that has its limits.

`build_up`, `polar` and `propeller` give the drag, `speeds` the speeds of a straight dive,
`load_factors` what limits a pull-out, `flight` the equations of motion, `stepping` their
integration, `pull_out` and `least_height` what comes of it, `entries` how a dive begins, and
`point_mass` makes a solver of them. Imports errors, units, physics and solvers of linkcalc.
"""
