"""Clock ticks, calendars, and the work-time axis."""
