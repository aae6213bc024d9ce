"""A first plan without any search tree: serial schedule generation."""
