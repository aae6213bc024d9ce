"""The trench itself: section geometry, layout rules, quantities. Pure functions of a site."""
