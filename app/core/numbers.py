"""Numbers as they are written in files and fields. It reads none."""

from decimal import Decimal


def digits(value: float) -> str:
    """Digits without an exponent, as few as give the same number again."""
    said = format(Decimal(repr(float(value))), "f")
    return said.rstrip("0").rstrip(".") if "." in said else said
