"""The symbolic side: formulas derived from first principles, to look at and to check by.

sympy is imported when a derivation is asked for, and by nothing else in the library. What lives
here imports none of the kernels that it derives.
"""
