"""The fabric ledger, told and drawn: how much of each phase is in place, through time."""
