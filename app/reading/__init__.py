"""Files in: YAML and CSV text to frozen values, every fault with its place and its remedy."""
