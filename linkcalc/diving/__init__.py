"""Dives of an aircraft that is described: into a dive solver's fields, and out into words.

`fields` makes the fields of a solver from the model, `following` hands them to it with the
reach of the elevator's run, `telling` makes the values of a report of what comes back, `placard`
the speeds that may be flown, `flutter` the cautions. Imported only for an aircraft that has an
airframe.
"""
