"""Which parts to order: what may be chosen from, what parts have to keep to, and what wins.

Every candidate is evaluated as it would be flown, by `linkcalc.study.combinations`; there is no formula of
the trade here. Imports `study`, `catalogue` and what lies below them.
"""
