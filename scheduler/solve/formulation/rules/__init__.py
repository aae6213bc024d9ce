"""The rules of a network as constraints, one file for each family."""
