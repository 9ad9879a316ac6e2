"""Whether a casebook answers what a funder or a board asks for, and what the work costs and changes."""
