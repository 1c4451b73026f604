"""For people who test aircraft, linkages or solvers of their own.

`linkcalc.testing.strategies` draws inputs for Hypothesis, which has to be installed to import
it. What lives here may import anything below the command line, and nothing of the library
imports it.
"""
