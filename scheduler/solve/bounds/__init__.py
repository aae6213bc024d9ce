"""What no plan can beat, shown by counting."""
