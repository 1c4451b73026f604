"""From the arrays of an evaluation to the objects of a report, with a reason for every gap.

`columns` holds what was computed as plain numbers, `reasons` says why something is not there,
`margins`, `values`, `limits`, `notes` and `supply` make the parts of a report, and `whole` puts them together.
"""
