"""How long people wait, those still waiting counted in. Plain Python and numpy: no Django, no clock, no files."""
