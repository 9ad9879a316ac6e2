"""The conservation statement of the whole object: put together from its records, and aware when it is stale."""
