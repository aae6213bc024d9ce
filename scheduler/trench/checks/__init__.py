"""The layout checks, by subject: each takes a View of the site and yields what it found."""
