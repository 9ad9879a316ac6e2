"""The workshop sheet: cautions first, then what must be in hand before, during and after the work."""
