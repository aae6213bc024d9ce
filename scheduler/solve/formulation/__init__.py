"""The network as variables, constraints and goals of the constraint solver."""
