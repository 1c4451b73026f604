"""What to do about an aircraft: questions that take many evaluations to answer.

Every answer comes from putting a change into the aircraft and evaluating it again; there
is no formula of the trade here. Imports `evaluation`, `check` and what lies below them.
"""
