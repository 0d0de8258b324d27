"""Facts: physics as plain array functions, and the way from entries to facts."""
