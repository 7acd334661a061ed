"""The rows of the shipped tables, by subject. A row's class is the schema of its table."""
