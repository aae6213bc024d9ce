"""From a network to the best schedule, with proof."""
