"""Lever geometry: stages that map an input angle to an output angle.

A pushrod between two arms and what it is made of: one module each, floats and float64
arrays in SI units and radians in and out, vectorised, nothing remembered between calls.
Nothing here knows units, files or aircraft; a module imports numpy and, if it must,
`linkcalc.errors`.
"""
