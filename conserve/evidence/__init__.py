"""The evidence register: files added to it, and held against it."""
