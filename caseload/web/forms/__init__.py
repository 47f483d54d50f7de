"""Forms: what was typed, read into the values that an act takes. No form writes."""
