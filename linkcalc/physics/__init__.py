"""Physics that several rooms and plugins share, as pure kernels.

Air, servo motors, columns, drag and propellers: one module each, floats and float64 arrays in SI
units in and out, nothing remembered between calls. Nothing here knows units,
files or aircraft; a module imports numpy and, if it must, `linkcalc.errors`.
"""
