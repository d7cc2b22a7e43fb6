"""From text with a unit to SI floats and back: the one room that knows unit words."""
