"""A plan at hand made better: by search in neighbourhoods, by putting work back in another order, by moving left."""
