"""Published scheduling instances through the same solver."""
