"""Controls used on two or more screens."""
