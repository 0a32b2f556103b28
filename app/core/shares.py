"""Numbers as good as drawn by chance, made of a seed and of names by SHA-256. They need no generator and no numpy."""

import hashlib
import math

_BITS = 53


def share(seed: int, *names: str | int) -> float:
    """A uniform number between 0 and 1, neither of them: of the seed and the names, and of nothing else."""
    said = "\x1f".join(map(str, (seed, *names)))
    whole = int.from_bytes(hashlib.sha256(said.encode("utf-8", "surrogatepass")).digest()[:8]) >> (64 - _BITS)
    return (whole + 0.5) / (1 << _BITS)


def between(seed: int, low_s: int, high_s: int, *names: str | int) -> int:
    """Whole seconds from `low_s` to `high_s`, each as likely as the others."""
    return low_s + math.floor(share(seed, *names) * (high_s - low_s + 1))
