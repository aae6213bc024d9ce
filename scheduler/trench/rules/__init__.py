"""The built-in layout rules as data, by subject."""
