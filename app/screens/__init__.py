"""The screens, one file each: controls, one call, show."""
