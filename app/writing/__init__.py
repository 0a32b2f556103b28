"""Procedures out: YAML text, CSV and XLSX tables. It reads nothing and knows no run."""
