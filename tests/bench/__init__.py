"""The bench: every budget with its reference in the same run. It asserts no time; `python -m tests.bench`."""
