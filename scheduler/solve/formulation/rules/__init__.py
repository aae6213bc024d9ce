"""The rules of a network as constraints, one file for each kind: date bounds, links, uses, groups of looks."""
