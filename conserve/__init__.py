"""Weigh proposed work on historic machinery against conservation practice, and write down why."""
