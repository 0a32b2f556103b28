"""The two types of our columns: text in the order of its bytes, and whole numbers of 64 bits."""

from sqlalchemy import BigInteger, Integer, Text

TEXT = Text().with_variant(Text(collation="C"), "postgresql")
"""SQLite orders texts by their UTF-8 bytes; PostgreSQL's own order is that of the locale of its database."""
WHOLE = Integer().with_variant(BigInteger(), "postgresql")
"""SQLite's integers have 64 bits, PostgreSQL's 32."""
