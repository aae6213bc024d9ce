"""What leaves the tool for people without it: printed look-aheads and hold tags, calendars, tables."""
