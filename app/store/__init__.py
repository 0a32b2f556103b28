"""The only part that touches the database: engine, tables, journal and library."""
