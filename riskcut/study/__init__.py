"""The study file: its schema, its reading with every fault located, its compilation to columns and blocks."""
