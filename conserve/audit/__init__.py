"""The audit: every decision re-made, what was changed since, and what does not fit."""
