"""The one pure evaluation: an aircraft as SI arrays in, margins out.

`gather` turns the model into `inputs`; `linkage`, `loads`, `search` and
`supply` do the steps; `evaluate` joins them. Imports solvers, model, physics
and mechanism, and no plugin.
"""
