"""Asking in writing and reading the answers: invitations (RFC 5546, RFC 6047), texts, free hours (RFC 7953)."""
