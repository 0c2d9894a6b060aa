"""The engines that hold the rows: SQLite, and where they are asked for DuckDB and PostgreSQL."""
