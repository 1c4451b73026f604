"""How an answer is shown: as text for a flyer, as a document for other programs.

No arithmetic beyond the choice of digits. Imports `check` and what lies below it.
"""
