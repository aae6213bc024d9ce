"""A plan at hand made better: by search in neighbourhoods, by ruin and recreate, by moving left."""
