"""Uncertain inputs of any function: sampling, chances, sensitivities and indices; plain SI arrays."""
