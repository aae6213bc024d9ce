"""The network: activities, and every rule that binds their dates, each with its reason."""
