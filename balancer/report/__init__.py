"""Results in the units of the car file: text for a person, plain dicts for a script."""
