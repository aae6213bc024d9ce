"""After a delay: what has happened is fixed, the rest is planned again in up to four ways."""
